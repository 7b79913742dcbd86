import { describe, expect, it } from 'vitest';
import { garwoodInterval, wilsonInterval } from '../../src/math/count-interval.js';
import { effectiveSampleSize } from '../../src/math/effective-sample-size.js';
import { chiSquareQuantile, gammaQuantile, regularisedGamma } from '../../src/math/gamma.js';
import { medianInterval } from '../../src/math/median-interval.js';
import { normalQuantile } from '../../src/math/normal-quantile.js';
import { studentQuantile } from '../../src/math/student.js';
import { trapezoid } from '../../src/math/trapezoid.js';
import { gaussian } from '../derived/helpers.js';

describe('garwoodInterval', () => {
  // Exact 95 % Poisson limits of the usual tables (e.g. Pearson & Hartley, Biometrika Tables 40), from memory.
  it.each([
    [0, 0, 3.689],
    [1, 0.0253, 5.572],
    [2, 0.242, 7.225],
    [3, 0.619, 8.767],
    [5, 1.623, 11.668],
    [10, 4.795, 18.39],
    [20, 12.217, 30.888],
  ])('%i events: %f .. %f', (count, low, high) => {
    const found = garwoodInterval(count);
    expect(found.low).toBeCloseTo(low, 3);
    expect(Math.abs(found.high / high - 1)).toBeLessThan(2e-4);
  });

  it('is a rate per exposure, and has no answer without exposure', () => {
    expect(garwoodInterval(10, 2).low).toBeCloseTo(4.795 / 2, 3);
    expect(garwoodInterval(3, 0).low).toBeNaN();
    expect(() => garwoodInterval(-1)).toThrow(RangeError);
    expect(() => garwoodInterval(1.5)).toThrow(RangeError);
    expect(() => garwoodInterval(1, 1, 1)).toThrow(RangeError);
  });

  it('keeps its coverage by definition: the tails of the Poisson sum are 2.5 % at the ends', () => {
    for (const count of [1, 4, 37, 400]) {
      const { low, high } = garwoodInterval(count);
      // P(X >= count | low) = P(gamma(count) <= low); P(X <= count | high) = 1 - P(gamma(count + 1) <= high).
      expect(regularisedGamma(count, low)).toBeCloseTo(0.025, 10);
      expect(1 - regularisedGamma(count + 1, high)).toBeCloseTo(0.025, 10);
    }
  });
});

describe('wilsonInterval', () => {
  it('knows nothing without trials and refuses impossible counts', () => {
    expect(wilsonInterval(0, 0)).toEqual({ low: 0, high: 1 });
    expect(() => wilsonInterval(3, 2)).toThrow(RangeError);
  });
});

describe('quantiles of distributions', () => {
  // Usual tables (Abramowitz & Stegun 26.2, 26.4, 26.7), from memory.
  it('normal', () => {
    expect(normalQuantile(0.975)).toBeCloseTo(1.959963984540054, 14);
    expect(normalQuantile(0.95)).toBeCloseTo(1.6448536269514722, 14);
    expect(normalQuantile(0.5)).toBe(0);
    expect(normalQuantile(1e-10)).toBeCloseTo(-6.361340902404056, 10);
    expect(normalQuantile(0.001)).toBeCloseTo(-3.090232306167813, 13);
    expect(normalQuantile(1)).toBe(Number.POSITIVE_INFINITY);
    expect(() => normalQuantile(2)).toThrow(RangeError);
  });

  it('chi square', () => {
    expect(chiSquareQuantile(0.95, 1)).toBeCloseTo(3.841459, 6);
    expect(chiSquareQuantile(0.95, 10)).toBeCloseTo(18.307038, 6);
    expect(chiSquareQuantile(0.05, 10)).toBeCloseTo(3.940299, 6);
    expect(chiSquareQuantile(0.95, 2)).toBeCloseTo(-2 * Math.log(0.05), 10);
    expect(gammaQuantile(0, 3)).toBe(0);
  });

  it('gamma inverts its own distribution over many shapes', () => {
    for (const shape of [0.05, 0.5, 1, 3, 40, 2000]) {
      for (const p of [1e-6, 0.01, 0.3, 0.9, 0.9999]) {
        expect(regularisedGamma(shape, gammaQuantile(p, shape)), `${shape} ${p}`).toBeCloseTo(p, 9);
      }
    }
  });

  it('Student', () => {
    expect(studentQuantile(0.975, 1)).toBeCloseTo(12.706205, 5);
    expect(studentQuantile(0.975, 10)).toBeCloseTo(2.228139, 6);
    expect(studentQuantile(0.95, 30)).toBeCloseTo(1.697261, 6);
    expect(studentQuantile(0.025, 10)).toBeCloseTo(-2.228139, 6);
    // NIST/SEMATECH e-Handbook 1.3.5.3: critical value for 326 degrees of freedom.
    expect(studentQuantile(0.975, 326)).toBeCloseTo(1.9673, 4);
  });
});

describe('effectiveSampleSize', () => {
  it('is n (1 - r) / (1 + r) for a first-order process, and n for white noise', () => {
    const next = gaussian(7);
    const n = 20_000;
    const white = Float64Array.from({ length: n }, next);
    const red = new Float64Array(n);
    for (let i = 1; i < n; i++) red[i] = 0.8 * red[i - 1]! + white[i]!;
    expect(effectiveSampleSize(white) / n).toBeGreaterThan(0.95);
    expect(effectiveSampleSize(red) / n).toBeCloseTo(0.2 / 1.8, 1);
    expect(effectiveSampleSize([1, 2])).toBe(2);
  });
});

describe('medianInterval', () => {
  it('covers the true median in about 95 % of samples', () => {
    const next = gaussian(11);
    let covered = 0;
    for (let k = 0; k < 2000; k++) {
      const { low, high } = medianInterval(Float64Array.from({ length: 41 }, next));
      if (low <= 0 && high >= 0) covered++;
    }
    expect(covered / 2000).toBeGreaterThan(0.935);
    expect(covered / 2000).toBeLessThan(0.985);
  });

  it('widens when samples are worth less, and is NaN of nothing', () => {
    const data = Array.from({ length: 100 }, (_, i) => i);
    const narrow = medianInterval(data);
    const wide = medianInterval(data, 0.95, 10);
    expect(wide.low).toBeLessThan(narrow.low);
    expect(wide.high).toBeGreaterThan(narrow.high);
    expect(medianInterval([]).low).toBeNaN();
  });
});

describe('trapezoid', () => {
  it('integrates, and adds nothing over missing samples and gaps', () => {
    expect(trapezoid([0, 1, 3], [0, 2, 2])).toBe(5);
    expect(trapezoid([0, 1, 3], [0, Number.NaN, 2])).toBe(0);
    expect(trapezoid([0, 1, 100], [2, 2, 2], 5)).toBe(2);
    expect(trapezoid([], [])).toBe(0);
  });
});
