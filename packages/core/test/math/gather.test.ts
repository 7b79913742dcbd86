import { expect, it } from 'vitest';
import { gathered } from '../../src/math/gather.js';

it('takes the values at the rows, in the order of the rows', () => {
  const values = Float64Array.of(10, 11, Number.NaN, 13);
  expect([...gathered(values, [3, 0, 2, 3])]).toEqual([13, 10, Number.NaN, 13]);
  expect(gathered(values, []).length).toBe(0);
});
