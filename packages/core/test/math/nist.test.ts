import { describe, expect, it } from 'vitest';
import { autocorrelation } from '../../src/math/correlation.js';
import { linearRegression, slopeInterval } from '../../src/math/linear-regression.js';
import { mean } from '../../src/math/mean.js';
import { standardDeviation } from '../../src/math/standard-deviation.js';
import { hasValidation, sharedText, WHERE } from './published.js';

interface Univariate {
  readonly datasets: Readonly<
    Record<
      string,
      {
        readonly mean: number;
        readonly sd_n_minus_1: number;
        readonly lag1_autocorrelation: number;
        readonly data: number[] | string;
      }
    >
  >;
}

/** Digits that double precision can reach on the ill-conditioned sets, as the file states. */
const SD_TOLERANCE: Readonly<Record<string, number>> = { numacc3: 1e-9, numacc4: 1e-7 };

describe.skipIf(!hasValidation)(`NIST StRD univariate summary statistics${WHERE}`, () => {
  const datasets = hasValidation
    ? (JSON.parse(sharedText('validation/nist-univariate.json')) as Univariate).datasets
    : {};
  const listed = Object.entries(datasets).filter(([, set]) => Array.isArray(set.data));

  it('has sets to check', () => expect(listed.length).toBeGreaterThanOrEqual(5));

  it.each(listed)('%s: mean, standard deviation and lag-1 autocorrelation as certified', (name, set) => {
    const data = set.data as number[];
    expect(Math.abs(mean(data) / set.mean - 1)).toBeLessThan(1e-14);
    expect(Math.abs(standardDeviation(data) / set.sd_n_minus_1 - 1)).toBeLessThan(SD_TOLERANCE[name] ?? 1e-12);
    expect(Math.abs(autocorrelation(data) - set.lag1_autocorrelation)).toBeLessThan(1e-9);
  });

  // The generated sets of the same collection: NumAcc2..4 are 1 value and 500 pairs around it.
  it.each([
    ['NumAcc2', 1.2, 1.1, 1.3, 1e-12],
    ['NumAcc3', 1000000.2, 1000000.1, 1000000.3, 1e-9],
    ['NumAcc4', 10000000.2, 10000000.1, 10000000.3, 1e-7],
  ] as const)('%s: mean and standard deviation 0.1', (_, centre, low, high, tolerance) => {
    const data = [centre, ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? low : high))];
    expect(Math.abs(mean(data) / centre - 1)).toBeLessThan(1e-14);
    expect(Math.abs(standardDeviation(data) / 0.1 - 1)).toBeLessThan(tolerance);
  });
});

describe.skipIf(!hasValidation)(`NIST StRD Norris (linear regression)${WHERE}`, () => {
  it('gives the certified coefficients, their standard errors and the residual deviation', () => {
    const rows = sharedText('validation/norris.csv')
      .trim()
      .split(/\r?\n/)
      .slice(1)
      .map((line) => line.split(',').map(Number));
    const certified = JSON.parse(sharedText('validation/norris.json')) as Record<string, number>;
    const line = linearRegression(
      rows.map((r) => r[1]!),
      rows.map((r) => r[0]!),
    );
    const close = (found: number, name: string): void =>
      expect(Math.abs(found / certified[name]! - 1), name).toBeLessThan(1e-10);
    close(line.intercept, 'b0');
    close(line.slope, 'b1');
    close(line.interceptError, 'sd_b0');
    close(line.slopeError, 'sd_b1');
    close(line.residualDeviation, 'residual_sd');
    close(line.rSquared, 'r_squared');
    expect(line.pairs).toBe(36);
  });
});

describe('linearRegression', () => {
  it('skips pairs with a missing half and tells nothing below two pairs or without spread', () => {
    const line = linearRegression([0, 1, Number.NaN, 3], [1, 3, 9, 7]);
    expect(line).toMatchObject({ intercept: 1, slope: 2, pairs: 3 });
    expect(linearRegression([1], [1]).slope).toBeNaN();
    expect(linearRegression([2, 2, 2], [1, 2, 3]).slope).toBeNaN();
    expect(linearRegression([], []).slope).toBeNaN();
  });

  it('gives a slope interval by Student t: x 1..5, y 1 3 2 5 4 -> 0.8 +- 3.182 * sqrt(0.12)', () => {
    const { low, high } = slopeInterval(linearRegression([1, 2, 3, 4, 5], [1, 3, 2, 5, 4]));
    // t(0.975, 3) = 3.182446 from the usual tables; residual sum 3.6, so the slope's variance is 3.6 / 3 / 10.
    expect(low).toBeCloseTo(0.8 - 3.182446 * Math.sqrt(0.12), 5);
    expect(high).toBeCloseTo(0.8 + 3.182446 * Math.sqrt(0.12), 5);
    expect(slopeInterval(linearRegression([1, 2], [1, 2])).low).toBeNaN();
  });
});
