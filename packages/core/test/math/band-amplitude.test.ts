import { describe, expect, it } from 'vitest';
import { bandAmplitude, Spectrum } from '../../src/math/band-amplitude.js';

const wave = (n: number, dt: number, f: (t: number) => number) =>
  Float64Array.from({ length: n }, (_v, i) => f(i * dt));

describe('bandAmplitude', () => {
  it('gives the amplitude of a sine in the band, on any ramp, and none of one outside', () => {
    const ramp = (t: number) => 500 + 900 * t - 60 * t * t;
    expect(
      bandAmplitude(
        wave(100, 0.02, (t) => ramp(t) + 40 * Math.sin(2 * Math.PI * 9 * t)),
        0.02,
        5,
        20,
      ),
    ).toBeCloseTo(40, 0);
    expect(
      bandAmplitude(
        wave(150, 0.02, (t) => ramp(t) + 40 * Math.sin(2 * Math.PI * 1.5 * t)),
        0.02,
        5,
        20,
      ),
    ).toBeLessThan(2);
    expect(bandAmplitude(wave(100, 0.02, ramp), 0.02, 5, 20)).toBeLessThan(0.01);
  });
  it('takes lines out that follow another rotation', () => {
    const phase = wave(100, 0.02, (t) => 2 * Math.PI * (6 * t + 1.5 * t * t));
    const line = phase.map((p) => 30 * Math.sin(p + 0.4));
    expect(bandAmplitude(line, 0.02, 5, 20)).toBeGreaterThan(20);
    expect(bandAmplitude(line, 0.02, 5, 20, [phase])).toBeLessThan(0.5);
  });
  it('NaN or too few give NaN', () => {
    expect(bandAmplitude(new Float64Array(8), 0.02, 5, 20)).toBeNaN();
    expect(bandAmplitude(new Float64Array(50).fill(Number.NaN), 0.02, 5, 20)).toBeNaN();
  });
  it('a spectrum gives the same, band by band', () => {
    const values = wave(
      101,
      0.02,
      (t) => 1500 + 80 * t * t + 30 * Math.sin(2 * Math.PI * 4 * t) + 9 * Math.cos(50 * t),
    );
    const spectrum = new Spectrum(values, 0.02);
    for (let f = 2; f < 10; f += 0.5) expect(spectrum.amplitude(f, f + 1)).toBe(bandAmplitude(values, 0.02, f, f + 1));
    expect(new Spectrum(new Float64Array(8), 0.02).amplitude(2, 3)).toBeNaN();
  });
});
