import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { clockTicks, ticks } from '../../../src/report/page/axis.js';

describe('ticks of an axis', () => {
  it.each([
    [0, 10, 5, [0, 2, 4, 6, 8, 10]],
    [84.2, 131.3, 5, [90, 100, 110, 120, 130]],
    [-0.07, 0.11, 2, [0, 0.1]],
    [5, 5, 4, [5]],
    [Number.NaN, Number.NaN, 4, []],
  ])('from %f to %f, about %i', (low, high, count, expected) => {
    expect(ticks(low, high, count)).toEqual(expected);
  });

  it('are round, ascend, lie within, and are about as many as asked', () => {
    const value = fc.double({ min: -1e6, max: 1e6, noNaN: true });
    fc.assert(
      fc.property(
        value,
        fc.double({ min: 1e-3, max: 1e6, noNaN: true }),
        fc.integer({ min: 2, max: 8 }),
        (low, reach, count) => {
          const found = ticks(low, low + reach, count);
          const step = found.length > 1 ? found[1]! - found[0]! : reach;
          for (const [i, each] of found.entries()) {
            expect(each).toBeGreaterThanOrEqual(low - 1e-6 * step);
            expect(each).toBeLessThanOrEqual(low + reach + 1e-6 * step);
            if (i > 0) expect(each).toBeGreaterThan(found[i - 1]!);
          }
          expect(found.length).toBeLessThanOrEqual(count + 1);
        },
      ),
    );
  });

  it('of a clock are at seconds, minutes and hours', () => {
    expect(clockTicks(639.3, 805.3, 7)).toEqual([660, 690, 720, 750, 780]);
    expect(clockTicks(0, 4, 4)).toEqual([0, 1, 2, 3, 4]);
    expect(clockTicks(0, 40_000, 6)).toEqual([0, 7200, 14_400, 21_600, 28_800, 36_000]);
  });
});
