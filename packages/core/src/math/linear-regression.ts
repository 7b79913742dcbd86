import { studentQuantile } from './student.js';

export interface Line {
  readonly intercept: number;
  readonly slope: number;
  /** Standard errors; NaN below 3 pairs. */
  readonly interceptError: number;
  readonly slopeError: number;
  /** Standard deviation of the residuals, divisor n - 2. */
  readonly residualDeviation: number;
  readonly rSquared: number;
  readonly pairs: number;
}

/**
 * Pairs with a NaN are skipped; fewer than 2 pairs or no spread in x give NaN throughout.
 * Ordinary least squares on centred data (stable where x is far from 0), with standard errors:
 * Draper & Smith, Applied Regression Analysis, ch. 1; checked against NIST StRD Norris.
 */
export function linearRegression(x: ArrayLike<number>, y: ArrayLike<number>): Line {
  const n = Math.min(x.length, y.length);
  let count = 0;
  let mx = 0;
  let my = 0;
  for (let i = 0; i < n; i++) {
    const a = x[i]!;
    const b = y[i]!;
    if (!Number.isFinite(a) || !Number.isFinite(b)) continue;
    count++;
    mx += a;
    my += b;
  }
  mx /= count;
  my /= count;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let i = 0; i < n; i++) {
    const a = x[i]! - mx;
    const b = y[i]! - my;
    if (!Number.isFinite(a) || !Number.isFinite(b)) continue;
    sxx += a * a;
    sxy += a * b;
    syy += b * b;
  }
  if (count < 2 || !(sxx > 0)) return nothing(count);
  const slope = sxy / sxx;
  const intercept = my - slope * mx;
  let rss = 0;
  for (let i = 0; i < n; i++) {
    const a = x[i]! - mx;
    const b = y[i]! - my;
    if (!Number.isFinite(a) || !Number.isFinite(b)) continue;
    const r = b - slope * a;
    rss += r * r;
  }
  const residualDeviation = count > 2 ? Math.sqrt(rss / (count - 2)) : Number.NaN;
  const slopeError = residualDeviation / Math.sqrt(sxx);
  return {
    intercept,
    slope,
    interceptError: residualDeviation * Math.sqrt(1 / count + (mx * mx) / sxx),
    slopeError,
    residualDeviation,
    rSquared: syy > 0 ? 1 - rss / syy : Number.NaN,
    pairs: count,
  };
}

/** Below 3 pairs both ends are NaN. Two-sided confidence interval of the slope, Student's t with n - 2 degrees of freedom. */
export function slopeInterval(line: Line, level = 0.95): { readonly low: number; readonly high: number } {
  if (line.pairs < 3) return { low: Number.NaN, high: Number.NaN };
  const reach = studentQuantile(0.5 + level / 2, line.pairs - 2) * line.slopeError;
  return { low: line.slope - reach, high: line.slope + reach };
}

function nothing(pairs: number): Line {
  const none = Number.NaN;
  return {
    intercept: none,
    slope: none,
    interceptError: none,
    slopeError: none,
    residualDeviation: none,
    rSquared: none,
    pairs,
  };
}
