import { regularisedGamma } from './gamma.js';
import { theilSen } from './theil-sen.js';

export interface MannKendall {
  /** Concordant less discordant pairs. */
  readonly s: number;
  /** Variance of `s` without trend, ties of values taken off. */
  readonly variance: number;
  /** Probability of an `s` at least so far from 0 without trend; NaN below 3 values. */
  readonly p: number;
  /** Probability of an `s` at least so high, and at least so low. */
  readonly rising: number;
  readonly falling: number;
  /** Kendall's tau-b against time. */
  readonly tau: number;
  /** `p` counts all orders of the values; else it is the normal approximation with continuity correction. */
  readonly exact: boolean;
}

/** Up to so many values, when no two are equal, every order is counted. */
const EXACT = 10;

/**
 * No NaN allowed; below 3 values nothing is told (`p` NaN). Mann-Kendall test of values in the order of time: H. B. Mann,
 * Econometrica 13 (1945) 245; M. G. Kendall, Rank Correlation Methods (1975); variance with ties: R. O. Gilbert, Statistical
 * Methods for Environmental Pollution Monitoring (1987), 16.4.2. Exact to n = 10 by the number of permutations with a given
 * number of inversions (D. E. Knuth, The Art of Computer Programming 3, 5.1.1). Values have to be independent: of a series
 * that remembers itself give {@link prewhitened} ones.
 */
export function mannKendall(values: ArrayLike<number>): MannKendall {
  const n = values.length;
  let s = 0;
  let tiedPairs = 0;
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) {
      s += Math.sign(values[j]! - values[i]!);
      if (values[j] === values[i]) tiedPairs++;
    }
  const pairs = (n * (n - 1)) / 2;
  const variance = (n * (n - 1) * (2 * n + 5) - tieTerm(values)) / 18;
  const tau = pairs > 0 ? s / Math.sqrt(pairs * (pairs - tiedPairs)) : Number.NaN;
  if (n < 3 || !(variance > 0))
    return { s, variance, p: Number.NaN, rising: Number.NaN, falling: Number.NaN, tau, exact: false };
  const exact = n <= EXACT && tiedPairs === 0;
  const upper = exact ? exactUpper(n, s) : normalUpper(s, variance);
  const lower = exact ? exactUpper(n, -s) : normalUpper(-s, variance);
  return { s, variance, p: Math.min(1, 2 * Math.min(upper, lower)), rising: upper, falling: lower, tau, exact };
}

/** Sum of t (t - 1) (2 t + 5) over groups of equal values. */
function tieTerm(values: ArrayLike<number>): number {
  const counts = new Map<number, number>();
  for (let i = 0; i < values.length; i++) counts.set(values[i]!, (counts.get(values[i]!) ?? 0) + 1);
  let term = 0;
  for (const t of counts.values()) term += t * (t - 1) * (2 * t + 5);
  return term;
}

/** P(S >= s) over all orders of n different values. */
function exactUpper(n: number, s: number): number {
  // counts[k] = permutations with k inversions; S = pairs - 2 k.
  let counts = [1];
  for (let m = 2; m <= n; m++) {
    const next = new Array<number>(counts.length + m - 1).fill(0);
    for (const [k, count] of counts.entries()) for (let d = 0; d < m; d++) next[k + d]! += count;
    counts = next;
  }
  const pairs = (n * (n - 1)) / 2;
  let hits = 0;
  let total = 0;
  for (const [k, count] of counts.entries()) {
    total += count;
    if (pairs - 2 * k >= s) hits += count;
  }
  return hits / total;
}

/** P(S >= s), continuity correction of one. */
function normalUpper(s: number, variance: number): number {
  return normalTail((s - 1) / Math.sqrt(variance));
}

/** Upper tail of the standard normal distribution: half the upper tail of chi-square with one degree of freedom. */
function normalTail(z: number): number {
  const outside = 0.5 * (1 - regularisedGamma(0.5, (z * z) / 2));
  return z >= 0 ? outside : 1 - outside;
}

/** Rounds of slope and memory, each learned without the other. */
const ROUNDS = 4;

/**
 * No NaN allowed; shorter than 6 gives a copy. Values less what each inherits of the one before, its slope per step kept:
 * (y[i] - r y[i - 1]) / (1 - r), with slope and first autocorrelation r learned in turn (X. L. Wang & V. R. Swail, Journal
 * of Climate 14 (2001) 2204, appendix, from memory). r is corrected for the bias of a short series about a line,
 * (n r + 2) / (n - 4) (F. Marriott & J. Pope, Biometrika 41 (1954) 390, from memory); a memory within chance
 * (1.645 / sqrt n) or below 0 is left: it does not make trends.
 */
export function prewhitened(values: ArrayLike<number>): Float64Array {
  const n = values.length;
  let white = Float64Array.from(values);
  if (n < 6) return white;
  const steps = Float64Array.from(values, (_, i) => i);
  for (let round = 0; round < ROUNDS; round++) {
    const { slope } = theilSen(steps.subarray(0, white.length), white);
    const r = memoryOf(values, slope);
    if (r <= 1.645 / Math.sqrt(n)) return Float64Array.from(values);
    const kept = Math.min(0.95, (n * r + 2) / (n - 4));
    white = Float64Array.from({ length: n - 1 }, (_, i) => (values[i + 1]! - kept * values[i]!) / (1 - kept));
  }
  return white;
}

/** First autocorrelation of what stands off a line of this slope. */
function memoryOf(values: ArrayLike<number>, slope: number): number {
  const n = values.length;
  let mean = 0;
  for (let i = 0; i < n; i++) mean += (values[i]! - slope * i) / n;
  let top = 0;
  let bottom = 0;
  let before = 0;
  for (let i = 0; i < n; i++) {
    const rest = values[i]! - slope * i - mean;
    bottom += rest * rest;
    if (i > 0) top += rest * before;
    before = rest;
  }
  return bottom > 0 ? top / bottom : 0;
}
