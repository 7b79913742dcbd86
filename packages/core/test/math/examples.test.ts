import { describe, expect, it } from 'vitest';
import { wilsonInterval } from '../../src/math/count-interval.js';
import { interpolate, lastAtOrBefore } from '../../src/math/interpolate.js';
import { madn } from '../../src/math/madn.js';
import { hampel, movingMedian } from '../../src/math/moving-median.js';
import { median, quantile } from '../../src/math/quantile.js';
import { savitzkyGolay, savitzkyGolayCoefficients } from '../../src/math/savitzky-golay.js';
import { hasValidation, sharedText, WHERE } from './published.js';

interface Example {
  readonly id: string;
  readonly data: number[];
  readonly probs: number[];
  readonly x: number[];
  readonly xp: number[];
  readonly fp: number[];
  readonly window: number;
  readonly order: number;
  readonly half_window: number;
  readonly n_sigma: number;
  readonly cases: number[][];
  readonly expected: Record<string, number[]> & number[] & Record<string, number>;
  readonly expected_valid: number[];
  readonly expected_smooth: number[];
  readonly expected_derivative: number[];
}

describe.skipIf(!hasValidation)(`published worked examples${WHERE}`, () => {
  const all = hasValidation ? (JSON.parse(sharedText('validation/stats-examples.json')) as Example[]) : [];
  const example = (id: string): Example => {
    const found = all.find((each) => each.id === id);
    if (found === undefined) throw new Error(`stats-examples.json has no ${id}`);
    return found;
  };

  it('quantile is type 7 (Hyndman & Fan 1996, values of R quantile())', () => {
    const { data, probs, expected } = example('quantile-types');
    for (const [k, p] of probs.entries())
      expect(quantile(data, p)).toBeCloseTo((expected['7'] as unknown as number[])[k]!, 9);
  });

  it('90th percentile of the wafer lot (NIST/SEMATECH e-Handbook 7.2.6.2, type 7)', () => {
    const { data, expected } = example('percentile-nist');
    expect(Math.abs(quantile(data, 0.9) - (expected.p90_type7 as number))).toBeLessThan(5e-5);
  });

  it('median and raw MAD of the mass-spectrometer readings (NIST/SEMATECH e-Handbook 1.3.5.17.1)', () => {
    const { data, expected } = example('grubbs');
    expect(median(data)).toBeCloseTo(expected.median as number, 9);
    expect(madn(data) / 1.4826).toBeCloseTo(expected.MAD as number, 9);
  });

  it('scaled MAD (R stats::mad help example)', () => {
    const { data, expected } = example('mad');
    expect(madn(data)).toBeCloseTo(expected['mad_scaled_1.4826'] as unknown as number, 12);
  });

  it('Wilson interval (Newcombe 1998, table I method 3)', () => {
    for (const [successes, trials, low, high] of example('wilson').cases) {
      const found = wilsonInterval(successes!, trials!);
      expect(found.low).toBeCloseTo(low!, 9);
      expect(found.high).toBeCloseTo(high!, 9);
    }
  });

  it('Hampel identifier flags the one outlier', () => {
    const { data, half_window, n_sigma, expected } = example('hampel');
    const { cleaned, flagged } = hampel(data, half_window, n_sigma);
    expect(flagged).toEqual(expected.flagged);
    expect(cleaned[4]).toBe(expected.cleaned_index_4);
    expect(Array.from(cleaned).filter((_, i) => i !== 4)).toEqual(data.filter((_, i) => i !== 4));
  });

  it('interpolation with held ends (numpy.interp help example)', () => {
    const { x, xp, fp, expected } = example('interp');
    for (const [k, at] of x.entries()) expect(interpolate(at, xp, fp)).toBeCloseTo(expected[k]!, 12);
  });

  it('Savitzky-Golay of the published series, and exactness on a quadratic', () => {
    const vector = example('sg-vector');
    const smooth = savitzkyGolay(vector.data, vector.window, vector.order);
    for (const [k, y] of vector.expected_valid.entries()) expect(smooth[k + 2]).toBeCloseTo(y, 9);
    expect(smooth[1]).toBeNaN();
    const { data, expected_smooth, expected_derivative } = example('sg-polynomial-exact');
    const flat = savitzkyGolay(data, 5, 2);
    const slope = savitzkyGolay(data, 5, 2, 1);
    for (const [k, y] of expected_smooth.entries()) expect(flat[k + 2]).toBeCloseTo(y, 9);
    for (const [k, y] of expected_derivative.entries()) expect(slope[k + 2]).toBeCloseTo(y, 9);
  });

  it('Savitzky-Golay coefficients (Savitzky & Golay 1964, Steinier 1972)', () => {
    const rows = sharedText('validation/savgol.csv').trim().split(/\r?\n/).slice(1);
    expect(rows.length).toBeGreaterThanOrEqual(15);
    for (const row of rows) {
      const [window, derivative, order, divisor, coefficients] = row.split(',');
      const numerators = coefficients!.split(' ').map(Number);
      for (const degree of order!.match(/\d/g)!) {
        const found = savitzkyGolayCoefficients(Number(window), Number(degree), Number(derivative));
        // The tables give the second derivative of the polynomial as twice its quadratic term; both print it as here.
        for (const [k, c] of numerators.entries()) expect(found[k], row).toBeCloseTo(c / Number(divisor), 12);
      }
    }
  });
});

describe('quantile and median', () => {
  it('skip NaN, tell NaN of nothing, and refuse a share outside 0..1', () => {
    expect(median([Number.NaN, 3, 1, 2])).toBe(2);
    expect(median([])).toBeNaN();
    expect(median([Number.NaN])).toBeNaN();
    expect(quantile([5], 0.9)).toBe(5);
    expect(() => quantile([1, 2], 1.5)).toThrow(RangeError);
  });

  it('agree with sorting on a large series and leave the input alone', () => {
    const data = Float64Array.from({ length: 5001 }, (_, i) => (Math.sin(i * 12.9898) * 43758.5453) % 1);
    const before = data.slice();
    const sorted = data.slice().sort();
    expect(median(data)).toBe(sorted[2500]);
    expect(quantile(data, 0.01)).toBe(sorted[50]);
    expect(quantile(data, 1)).toBe(sorted[5000]);
    expect(data).toEqual(before);
  });
});

describe('movingMedian', () => {
  it('equals the median of each window, with NaN skipped and ends shrunk', () => {
    const data = [5, 1, Number.NaN, 7, 7, 2, 9, 0, 4];
    const found = movingMedian(data, 2);
    for (let i = 0; i < data.length; i++) {
      if (Number.isNaN(data[i]!)) expect(found[i]).toBeNaN();
      else expect(found[i]).toBe(median(data.slice(Math.max(0, i - 2), i + 3)));
    }
  });

  it('does not call steps of one quantum outliers of a flat window when a floor is given', () => {
    const data = [3, 3, 3, 4, 3, 3, 3];
    expect(hampel(data, 3, 3).flagged).toEqual([3]);
    expect(hampel(data, 3, 3, 1).flagged).toEqual([]);
  });
});

describe('lastAtOrBefore', () => {
  it('finds the row, -1 before the first', () => {
    expect(lastAtOrBefore([1, 2, 2, 5], 2)).toBe(2);
    expect(lastAtOrBefore([1, 2, 2, 5], 0.5)).toBe(-1);
    expect(lastAtOrBefore([1, 2, 2, 5], 9)).toBe(3);
  });
});
