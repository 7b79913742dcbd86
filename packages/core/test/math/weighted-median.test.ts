import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { weightedMedian } from '../../src/math/weighted-median.js';

describe('weightedMedian', () => {
  it('is the lower median of a list in which each value stands as often as its weight', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: -50, max: 50 }), fc.integer({ min: 1, max: 5 })), { minLength: 1 }),
        (pairs) => {
          const list = pairs.flatMap(([value, weight]) => Array<number>(weight).fill(value)).sort((a, b) => a - b);
          const found = weightedMedian(
            pairs.map(([value]) => value),
            pairs.map(([, weight]) => weight),
          );
          expect(found).toBe(list[Math.ceil(list.length / 2) - 1]);
        },
      ),
    );
  });

  it('leaves out what is no number or weighs nothing', () => {
    expect(weightedMedian([5, Number.NaN, 1], [1, 9, 0])).toBe(5);
    expect(weightedMedian([Number.POSITIVE_INFINITY, 3, Number.POSITIVE_INFINITY], [1, 1, 1])).toBe(
      Number.POSITIVE_INFINITY,
    );
    expect(weightedMedian([], [])).toBeNaN();
  });
});
