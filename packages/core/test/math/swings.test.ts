import { describe, expect, it } from 'vitest';
import { swings } from '../../src/math/swings.js';

const at = (seconds: number, hz: number) => Float64Array.from({ length: seconds * hz + 1 }, (_, i) => i / hz);

describe('swings', () => {
  it.each([0.6, 1, 2, 2.9])('finds amplitude and rate of a sine of %f Hz on a slope', (hz) => {
    const time = at(10, 50);
    const found = swings(
      time.map((t) => 7 * Math.sin(2 * Math.PI * hz * t) + 0.5 * t),
      time,
      3,
      0.5,
      3,
      2,
    );
    expect(found.amplitude).toBeGreaterThan(6.4);
    expect(found.amplitude).toBeLessThan(7.1);
    expect(found.frequency).toBeCloseTo(hz, 1);
  });

  it('asks for all cycles in a row, in the band, unbroken', () => {
    const time = at(10, 50);
    const none = (read: (t: number) => number) => swings(time.map(read), time, 3, 0.5, 3, 2).amplitude;
    expect(none((t) => 7 * Math.sin(2 * Math.PI * 0.3 * t))).toBeNaN();
    expect(none((t) => 7 * Math.sin(2 * Math.PI * 6 * t))).toBeNaN();
    expect(none((t) => (t < 2.4 ? 7 * Math.sin(2 * Math.PI * t) : 0))).toBeNaN();
    expect(none((t) => (t % 2 < 0.02 ? Number.NaN : 7 * Math.sin(2 * Math.PI * t)))).toBeNaN();
    expect(none((t) => 0.9 * Math.sin(2 * Math.PI * t))).toBeNaN();
    // One small half swing in between: the run takes its size from the smallest.
    expect(none((t) => (t % 3 < 1 ? 3 : 7) * Math.sin(2 * Math.PI * t))).toBeLessThan(5.1);
    expect(swings([], [], 3, 0.5, 3, 2).amplitude).toBeNaN();
  });
});
