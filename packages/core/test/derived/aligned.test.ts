import { describe, expect, it } from 'vitest';
import { lagOf, resampled } from '../../src/derived/aligned.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { driveOf, gaussian, sampled } from './helpers.js';

/** A drive-like wave without a period: sums of incommensurate sines. */
const wave = (t: number): number =>
  2500 + 900 * Math.sin(0.31 * t) + 500 * Math.sin(0.83 * t + 1) + 250 * Math.sin(1.9 * t + 2);

describe('lagOf', () => {
  it.each([
    [50, 1, 1, 0.2, 0.02],
    [50, 1, 1, -0.13, 0.02],
    [20, 1, 4, 0.31, 0.06],
    [10, 1, 1, 0.0, 0.03],
    [10, 10, 10, 0.4, 0.25],
  ])('%i Hz rows, renewed every %i and %i rows: finds %f s', (hz, everyA, everyB, lag, tolerance) => {
    const rows = 240 * hz;
    const next = gaussian(1);
    const drive = driveOf({
      hz,
      channels: {
        engineSpeed: sampled(rows, hz, (t) => wave(t) + 4 * next(), 0.25, everyA),
        'wheelSpeed.rearLeft': sampled(rows, hz, (t) => wave(t - lag) / 40 + 0.05 * next(), 0.01, everyB),
      },
    });
    const found = lagOf(drive, 'engineSpeed', 'wheelSpeed.rearLeft');
    if (isRefusal(found)) throw new Error(found.reason);
    expect(Math.abs(found.seconds - lag)).toBeLessThan(tolerance);
    expect(Math.abs(found.seconds - lag)).toBeLessThan(3 * found.uncertainty + 1e-9);
    expect(found.uncertainty).toBeLessThan(2 * tolerance);
    expect(found.correlation).toBeGreaterThan(0.5);
  });

  it('leaves out shifts, in which engine and road speed part', () => {
    const ratio = (t: number): number => 30 + 12 * (Math.floor(t / 8) % 3);
    const next = gaussian(5);
    const drive = driveOf({
      hz: 20,
      channels: {
        engineSpeed: sampled(4800, 20, (t) => (wave(t) / 40) * ratio(t) + 4 * next(), 0.25),
        vehicleSpeed: sampled(4800, 20, (t) => wave(t - 0.25) / 40 + 0.05 * next(), 0.01),
      },
    });
    const shifts = Array.from({ length: 30 }, (_, k) => ({ from: 8 * k - 0.5, to: 8 * k + 0.5, start: 0, end: 0 }));
    const found = lagOf(drive, 'engineSpeed', 'vehicleSpeed', shifts);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(Math.abs(found.seconds - 0.25)).toBeLessThan(0.06);
  });

  it('refuses channels that have nothing to do with each other', () => {
    const next = gaussian(2);
    const drive = driveOf({
      hz: 10,
      channels: { a: sampled(2000, 10, () => next()), b: sampled(2000, 10, () => next()) },
    });
    expect(isRefusal(lagOf(drive, 'a', 'b'))).toBe(true);
  });

  it('refuses a channel that never moves, and names one that is absent', () => {
    const drive = driveOf({ hz: 10, channels: { a: sampled(500, 10, wave), b: new Float64Array(500).fill(3) } });
    expect(isRefusal(lagOf(drive, 'a', 'b'))).toBe(true);
    const absent = lagOf(drive, 'a', 'c');
    expect(isRefusal(absent) && absent.missing.channels).toEqual(['c']);
  });
});

describe('resampled', () => {
  it('is linear between samples and makes nothing up over more than two intervals or outside', () => {
    const time = Float64Array.from([0, 1, 2, 3, 9, 10]);
    const values = Float64Array.from([0, 10, 20, 30, 90, 100]);
    const at = Float64Array.from([-1, 0.5, 2, 6, 9.5, 10, 11]);
    expect([...resampled(values, time, at)]).toEqual([Number.NaN, 5, 20, Number.NaN, 95, 100, Number.NaN]);
    expect([...resampled(values, time, at, 6)][3]).toBe(60);
    expect(resampled(Float64Array.from([Number.NaN]), Float64Array.from([0]), at)[0]).toBeNaN();
  });
});
