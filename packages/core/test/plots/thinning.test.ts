import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bridged, gridOf, thinned } from '../../src/plots/thinning.js';

/** Rows with uneven steps, holes and spikes. */
const rows = fc
  .array(
    fc.tuple(
      fc.double({ min: 0.001, max: 3, noNaN: true }),
      fc.oneof({ weight: 5, arbitrary: fc.double({ min: -1e4, max: 1e4, noNaN: true }) }, fc.constant(Number.NaN)),
    ),
    { minLength: 2, maxLength: 900 },
  )
  .map((pairs) => {
    const time = new Float64Array(pairs.length);
    const values = new Float64Array(pairs.length);
    let t = 0;
    pairs.forEach(([step, value], i) => {
      t += step;
      time[i] = t;
      values[i] = value;
    });
    return { time, values };
  });

describe('thinning', () => {
  it('keeps the least and the greatest value of any stretch, and invents none', () => {
    fc.assert(
      fc.property(rows, fc.integer({ min: 4, max: 300 }), ({ time, values }, most) => {
        const grid = gridOf(time, time[0]!, time[time.length - 1]!, most);
        const points = thinned(values, grid);
        const shown = points.filter((value) => value !== null);
        const real = values.filter((value) => !Number.isNaN(value));
        expect(points).toHaveLength(grid.time.length);
        expect(grid.time.length).toBeLessThanOrEqual(Math.max(most, 2));
        expect(shown.every((value) => real.includes(value))).toBe(true);
        if (real.length > 0) {
          expect(Math.max(...shown)).toBe(Math.max(...real));
          expect(Math.min(...shown)).toBe(Math.min(...real));
        } else expect(shown).toEqual([]);
      }),
    );
  });

  it('keeps extremes where they were, to one bucket', () => {
    fc.assert(
      fc.property(rows, fc.integer({ min: 4, max: 60 }), ({ time, values }, most) => {
        const grid = gridOf(time, time[0]!, time[time.length - 1]!, most);
        const points = thinned(values, grid);
        const top = values.reduce(
          (best, value, i) => (value > (values[best] ?? Number.NaN) || Number.isNaN(values[best]!) ? i : best),
          0,
        );
        if (Number.isNaN(values[top]!)) return;
        const at = points.map((value, k) => (value === values[top] ? grid.time[k]! : Number.NaN));
        const nearest = Math.min(...at.filter((t) => !Number.isNaN(t)).map((t) => Math.abs(t - time[top]!)));
        expect(nearest).toBeLessThanOrEqual(grid.step + 1e-9);
      }),
    );
  });

  it('has an axis that ascends strictly', () => {
    fc.assert(
      fc.property(rows, fc.integer({ min: 2, max: 400 }), ({ time }, most) => {
        const grid = gridOf(time, time[0]!, time[time.length - 1]!, most);
        for (let k = 1; k < grid.time.length; k++) expect(grid.time[k]!).toBeGreaterThan(grid.time[k - 1]!);
      }),
    );
  });

  it('leaves a stretch that fits as it is', () => {
    const time = Float64Array.from({ length: 50 }, (_, i) => i / 10);
    const grid = gridOf(time, 1, 2, 100);
    expect([...grid.time]).toEqual([1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2]);
    expect(grid.step).toBe(0);
    expect(thinned(time, grid)).toEqual([...grid.time]);
    expect(bridged(0.7, grid)).toBe(0.7);
  });

  it('gives nothing outside of the recording', () => {
    const grid = gridOf(Float64Array.of(0, 1, 2), 5, 9, 10);
    expect(grid.time).toHaveLength(0);
    expect(thinned(Float64Array.of(1, 2, 3), grid)).toEqual([]);
  });
});
