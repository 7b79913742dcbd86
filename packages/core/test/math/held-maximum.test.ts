import { describe, expect, it } from 'vitest';
import { heldMaximum } from '../../src/math/held-maximum.js';
import { evenly } from './random.js';

describe('heldMaximum', () => {
  const time = [0, 1, 2, 3, 4, 5, 6];
  it('is the highest minimum of a window', () => {
    expect(heldMaximum([1, 5, 4, 6, 2, 9, 1], time, 2)).toEqual({ value: 4, index: 2 });
    expect(heldMaximum([1, 5, 4, 6, 2, 9, 1], time, 0)).toEqual({ value: 9, index: 5 });
    expect(heldMaximum([1, 5, 4, 6, 2, 9, 1], time, 6)).toMatchObject({ value: 1 });
  });
  it('is broken by NaN and by gaps; too short or empty gives NaN', () => {
    expect(heldMaximum([9, Number.NaN, 3, 3, 3], time, 2).value).toBe(3);
    expect(heldMaximum([9, 9, 3, 3, 3], [0, 1, 10, 11, 12], 2, 3).value).toBe(3);
    expect(heldMaximum([9, 9], [0, 1], 2).value).toBeNaN();
    expect(heldMaximum([], [], 1)).toEqual({ value: Number.NaN, index: -1 });
  });
  it('agrees with the plain definition', () => {
    const x = Array.from({ length: 200 }, (_v, i) => Math.sin(i * 1.7) + Math.sin(i / 9));
    const t = x.map((_v, i) => i * 0.1);
    let best = Number.NEGATIVE_INFINITY;
    for (let i = 0; i + 10 < x.length; i++) best = Math.max(best, Math.min(...x.slice(i, i + 11)));
    expect(heldMaximum(x, t, 1).value).toBeCloseTo(best, 12);
  });
  it('tells where, and skips what cannot be higher, as the plain definition does', () => {
    const next = evenly(5);
    for (let round = 0; round < 40; round++) {
      const x = Array.from({ length: 120 }, () => (next() < 0.03 ? Number.NaN : Math.round(8 * next())));
      const t = x.map((_v, i) => i * 0.1 + (i > 70 ? 3 : 0));
      let best = { value: Number.NaN, index: -1 };
      for (let k = 0; k < x.length; k++) {
        let i = k;
        while (i >= 0 && t[k]! - t[i]! < 0.5 - 1e-6) i--;
        if (i < 0) continue;
        const inside = x.slice(i, k + 1);
        const broken = inside.some(Number.isNaN) || (i <= 70 && k > 70);
        const low = Math.min(...inside);
        if (!broken && !(best.value >= low)) best = { value: low, index: i + inside.lastIndexOf(low) };
      }
      expect(heldMaximum(x, t, 0.5, 1)).toEqual(best);
    }
  });
});
