import { expect, it } from 'vitest';
import { evenly, middleOf } from '../../src/math/evenly.js';

const rows = (n: number) => Int32Array.from({ length: n }, (_, i) => 3 * i);

it('takes rows evenly spread, the first among them, and all when there are few', () => {
  expect(evenly(rows(0), 10)).toEqual(rows(0));
  expect(evenly(rows(19), 10)).toEqual(rows(19));
  expect([...evenly(rows(21), 10)]).toEqual([0, 6, 12, 18, 24, 30, 36, 42, 48, 54, 60]);
  expect(evenly(rows(1_000_003), 1000).length).toBeLessThanOrEqual(1001);
});

it('gives the median, of a long list that of some of it', () => {
  expect(middleOf(new Float64Array())).toBeNaN();
  expect(middleOf(Float64Array.of(3, Number.NaN, 1, 2))).toBe(2);
  const long = Float64Array.from({ length: 1_000_000 }, (_, i) => Math.sin(i / 999) + (i % 7) / 10);
  expect(middleOf(long)).toBeCloseTo(0.3, 2);
});
