import fc from 'fast-check';
import { expect, it } from 'vitest';
import { hampel, movingMedian } from '../../src/math/moving-median.js';
import { median, orderStatistic } from '../../src/math/quantile.js';

/** Few levels, as a gauge reads them, with gaps. */
const readings = fc.array(
  fc.oneof(fc.integer({ min: -3, max: 3 }), fc.constant(Number.NaN), fc.double({ noNaN: true, min: -9, max: 9 })),
  {
    maxLength: 60,
  },
);

it('is the median of each window', () => {
  fc.assert(
    fc.property(readings, fc.integer({ min: 0, max: 9 }), (list, half) => {
      const moved = movingMedian(Float64Array.from(list), half);
      list.forEach((x, i) => {
        const window = list.slice(Math.max(0, i - half), i + half + 1);
        const expected = Number.isNaN(x) ? Number.NaN : median(window);
        expect(Number.isNaN(expected) ? Number.isNaN(moved[i]!) : Math.abs(moved[i]! - expected) < 1e-12).toBe(true);
      });
    }),
    { numRuns: 300 },
  );
});

it('replaces a lone spike and leaves a step', () => {
  const { cleaned, flagged } = hampel([1, 1, 1, 90, 1, 1, 1, 5, 5, 5, 5], 3, 5, 2);
  expect(flagged).toEqual([3]);
  expect([...cleaned]).toEqual([1, 1, 1, 1, 1, 1, 1, 5, 5, 5, 5]);
});

it('gives the value at an index of the sorted array', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ noNaN: true }), { minLength: 1, maxLength: 80 }), fc.nat(), (list, at) => {
      const k = at % list.length;
      const sorted = [...list].sort((a, b) => a - b);
      expect(orderStatistic(Float64Array.from(list), k) === sorted[k]).toBe(true);
    }),
  );
});
