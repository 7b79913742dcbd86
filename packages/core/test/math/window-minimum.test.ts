import { describe, expect, it } from 'vitest';
import { windowMinimum } from '../../src/math/window-minimum.js';

describe('windowMinimum', () => {
  const time = Float64Array.from([0, 1, 2, 3, 4]);
  it('takes the lowest before and after, NaN passed over', () => {
    expect([...windowMinimum(Float64Array.from([5, 3, 4, Number.NaN, 9]), time, 1)]).toEqual([3, 3, 3, 4, 9]);
  });
  it('is NaN where nothing is in reach, and empty for nothing', () => {
    expect([...windowMinimum(Float64Array.from([1, Number.NaN, Number.NaN, Number.NaN, 2]), time, 1)]).toEqual([
      1,
      1,
      Number.NaN,
      2,
      2,
    ]);
    expect(windowMinimum(new Float64Array(0), new Float64Array(0), 1)).toHaveLength(0);
  });
});
