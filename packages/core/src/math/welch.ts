import { mean } from './mean.js';
import { standardDeviation } from './standard-deviation.js';
import { studentProbability, studentQuantile } from './student.js';

/** Mean of the second group less mean of the first, with what is known of it. */
export interface WelchResult {
  readonly difference: number;
  /** Standard error of the difference. */
  readonly error: number;
  readonly t: number;
  /** Degrees of freedom by Welch and Satterthwaite. */
  readonly degrees: number;
  /** Two-sided. */
  readonly p: number;
  readonly low: number;
  readonly high: number;
}

/**
 * NaN is skipped; fewer than 2 values in a group give undefined; no spread in both gives an interval of width 0, and p 0
 * or 1. Difference of two means without equal variances: Welch, Biometrika 34 (1947) 28-35; degrees of freedom after
 * Satterthwaite, Biometrics Bulletin 2 (1946) 110-114.
 */
export function welch(before: ArrayLike<number>, after: ArrayLike<number>, level = 0.95): WelchResult | undefined {
  const [a, b] = [part(before), part(after)];
  if (a.n < 2 || b.n < 2) return undefined;
  const difference = b.mean - a.mean;
  const square = a.square + b.square;
  const error = Math.sqrt(square);
  if (!(error > 0))
    return {
      difference,
      error: 0,
      t: difference === 0 ? 0 : Math.sign(difference) * Number.POSITIVE_INFINITY,
      degrees: a.n + b.n - 2,
      p: difference === 0 ? 1 : 0,
      low: difference,
      high: difference,
    };
  const degrees = (square * square) / (a.square ** 2 / (a.n - 1) + b.square ** 2 / (b.n - 1));
  const t = difference / error;
  const reach = studentQuantile(0.5 + level / 2, degrees) * error;
  return {
    difference,
    error,
    t,
    degrees,
    p: 2 * studentProbability(-Math.abs(t), degrees),
    low: difference - reach,
    high: difference + reach,
  };
}

/**
 * Smallest true difference that a two-sided test at `alpha` sees with probability `power`, given the standard error and
 * its degrees of freedom: (t(1 - alpha/2) + t(power)) x error; Zar, Biostatistical Analysis, ch. 8 (from memory).
 */
export function detectableDifference(error: number, degrees: number, alpha = 0.05, power = 0.8): number {
  return (studentQuantile(1 - alpha / 2, degrees) + studentQuantile(power, degrees)) * error;
}

function part(values: ArrayLike<number>): { readonly n: number; readonly mean: number; readonly square: number } {
  let n = 0;
  for (let i = 0; i < values.length; i++) if (Number.isFinite(values[i]!)) n++;
  return { n, mean: mean(values), square: standardDeviation(values) ** 2 / n };
}
