import { expect, it } from 'vitest';
import { evenly, middleBy, middleOf, middleOfTold } from '../../src/math/evenly.js';

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

it('gives the same of values that are worked out, and of those that are numbers', () => {
  for (const length of [0, 1, 7, 39_999, 40_001, 123_457]) {
    const values = Float64Array.from({ length }, (_, i) => Math.cos(i * i));
    expect(middleBy(length, (i) => values[i]!)).toBe(middleOf(values));
    const gaps = new Float64Array(2 * length).fill(Number.NaN);
    for (let i = 0; i < length; i++) gaps[2 * i + 1] = values[i]!;
    expect(middleOfTold(gaps)).toBe(middleOf(values));
  }
});
