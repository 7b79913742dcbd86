import { describe, expect, it } from 'vitest';
import { isRefusal } from '../../src/derived/recipe.js';
import { freshIndices, freshRate, heldValues, holds, isSparse, sampleSpacing } from '../../src/derived/refresh.js';
import { driveOf, gaussian, sampled } from './helpers.js';

const NO = Number.NaN;
const at10 = (n: number): Float64Array => Float64Array.from({ length: n }, (_, i) => i / 10);

describe('freshIndices', () => {
  it('collapses held values', () => {
    expect([...freshIndices(Float64Array.from([5, 5, 5, 6, 6, 7]), at10(6))]).toEqual([0, 3, 5]);
  });

  it('counts a value that was held so long that it must have been measured again', () => {
    // 5 Hz in a 10 Hz log: the run of six rows is three measurements.
    const values = Float64Array.from([1, 1, 2, 2, 2, 2, 2, 2, 3, 3]);
    expect([...freshIndices(values, at10(10), 5)]).toEqual([0, 2, 4, 6, 8]);
    expect([...freshIndices(values, at10(10))]).toEqual([0, 2, 8]);
  });

  it('takes jitter of the refresh for jitter, not for two samples', () => {
    // Renewed every 10 rows, sometimes 11 or 9.
    const values = new Float64Array(60);
    for (const [k, start] of [0, 10, 21, 30, 41, 50].entries()) values.fill(k, start);
    expect([...freshIndices(values, at10(60), 1)]).toEqual([0, 10, 21, 30, 41, 50]);
  });

  it('counts every filled cell of a multi-rate column, equal or not', () => {
    const values = Float64Array.from([4, NO, NO, 4, NO, NO, 4, NO, NO, 5]);
    expect(isSparse(values)).toBe(true);
    expect([...freshIndices(values, at10(10))]).toEqual([0, 3, 6, 9]);
  });

  it('does not take samples that were set aside for a multi-rate column', () => {
    const values = Float64Array.from([1, 1, 1, NO, NO, NO, NO, NO, NO, 1, 2, 2]);
    expect(isSparse(values)).toBe(false);
    expect([...freshIndices(values, at10(12))]).toEqual([0, 10]);
  });

  it('has none in an empty column', () => {
    expect(freshIndices(Float64Array.from([NO, NO]), at10(2)).length).toBe(0);
    expect(freshIndices(new Float64Array(0), at10(0)).length).toBe(0);
  });
});

describe('heldValues', () => {
  it('holds over two own intervals, not longer', () => {
    const values = Float64Array.from([1, NO, 2, NO, 3, NO, NO, NO, NO, NO, NO, 4, NO, 5]);
    const held = heldValues(values, at10(14));
    // Own spacing 0.2 s: held for 0.4 s.
    expect([...held]).toEqual([1, 1, 2, 2, 3, 3, 3, 3, 3, NO, NO, 4, 4, 5]);
    expect(values[1]).toBeNaN();
  });

  it('is the same array when nothing is empty', () => {
    const full = Float64Array.from([1, 2]);
    expect(heldValues(full, at10(2))).toBe(full);
  });

  it('makes nothing up before the first sample', () => {
    expect(heldValues(Float64Array.from([NO, NO, 1, 2]), at10(4))[0]).toBeNaN();
  });
});

describe('sampleSpacing', () => {
  it('is the median distance of filled cells', () => {
    expect(sampleSpacing(Float64Array.from([1, NO, NO, 1, NO, NO, 1]), at10(7))).toBeCloseTo(0.3, 9);
    expect(sampleSpacing(Float64Array.from([1]), at10(1))).toBeNaN();
  });
});

describe('freshRate and holds', () => {
  const next = gaussian(3);
  const noise = Float64Array.from({ length: 3000 }, next);
  const drive = driveOf({
    hz: 20,
    channels: {
      engineSpeed: sampled(
        3000,
        20,
        (t) => 2000 + 900 * Math.sin(t) + 40 * noise[Math.round(t * 20) % 3000]!,
        0.25,
        10,
      ),
      knockRetard: new Float64Array(3000),
    },
  });

  it('sees 2 Hz in a 20 Hz log that repeats values', () => {
    const { hz, certain } = freshRate(drive.channel('engineSpeed')!);
    expect(hz).toBeCloseTo(2, 1);
    expect(certain).toBe(true);
  });

  it('takes the rate of the group, less surely, for a channel that never changes', () => {
    const { hz, certain } = freshRate(drive.channel('knockRetard')!);
    expect(hz).toBeGreaterThan(1.9);
    expect(certain).toBe(false);
  });

  it('lets a duration be judged from three fresh samples on, and names the rate otherwise', () => {
    const channel = drive.channel('engineSpeed')!;
    expect(holds(channel, 1.5)).toBe(true);
    const refused = holds(channel, 0.5);
    expect(isRefusal(refused) && refused.missing.conditions).toEqual(['engineSpeed at >= 6 Hz']);
    expect(isRefusal(holds(channel, 0.5, 1))).toBe(false);
  });
});
