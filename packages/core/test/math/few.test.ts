import { describe, expect, test } from 'vitest';
import { mean, meanOfNumbers } from '../../src/math/mean.js';
import { insertInOrder, median, medianOfFew } from '../../src/math/quantile.js';
import { evenly } from './random.js';

describe('few values, many times over', () => {
  test('medianOfFew and meanOfNumbers say what median and mean say', () => {
    const next = evenly(11);
    for (let count = 0; count < 14; count++) {
      const values = Float64Array.from({ length: 16 }, () => Math.round(20 * next()) / 7);
      const first = values.slice(0, count);
      expect(meanOfNumbers(first)).toBe(mean(first));
      expect(medianOfFew(values, count)).toBe(median(first));
    }
  });

  test('insertInOrder orders the first values and leaves the others alone', () => {
    const values = Float64Array.of(3, 1, 2, 1, 0, -5);
    insertInOrder(values, 4);
    expect([...values]).toEqual([1, 1, 2, 3, 0, -5]);
  });
});
