import { describe, expect, it } from 'vitest';
import { rootBetween } from '../../src/math/root.js';

describe('root between two points', () => {
  it('finds roots that are known', () => {
    expect(rootBetween((x) => x * x - 2, 0, 2, 1e-12)).toBeCloseTo(Math.SQRT2, 11);
    expect(rootBetween(Math.cos, 0, 3, 1e-12)).toBeCloseTo(Math.PI / 2, 11);
    expect(rootBetween((x) => Math.exp(x) - 1e6, -5, 100, 1e-10)).toBeCloseTo(Math.log(1e6), 9);
    // Flat about its root, where secants alone crawl.
    expect(Math.abs(rootBetween((x) => x ** 9, -1, 4, 1e-6))).toBeLessThan(1e-6);
  });

  it('takes far fewer steps than halving', () => {
    let steps = 0;
    rootBetween(
      (x) => {
        steps++;
        return Math.atan(x - 0.3);
      },
      -10,
      12,
      1e-10,
    );
    expect(steps).toBeLessThan(15);
  });

  it('finds a leap, ends that are roots, and what is no bracket', () => {
    expect(rootBetween((x) => (x < 1.25 ? -1 : 1), 0, 3, 1e-9)).toBeCloseTo(1.25, 8);
    expect(rootBetween((x) => x, 0, 3, 1e-9)).toBe(0);
    expect(rootBetween((x) => x - 3, 0, 3, 1e-9)).toBe(3);
    expect(() => rootBetween((x) => x + 1, 0, 3, 1e-9)).toThrow(RangeError);
  });
});
