import { gammaln } from 'simple-statistics';
import { normalQuantile } from './normal-quantile.js';

/**
 * NaN gives NaN; outside 0..1 or degrees <= 0 throws RangeError; p 0 and 1 give the infinities.
 * Student's t quantile by guarded bisection on the incomplete beta function (Abramowitz & Stegun 26.7.1).
 */
export function studentQuantile(p: number, degrees: number): number {
  if (p < 0 || p > 1) throw new RangeError(`studentQuantile: p is ${p}, expected 0..1`);
  if (!(degrees > 0)) throw new RangeError(`studentQuantile: degrees of freedom are ${degrees}, expected > 0`);
  if (p === 0.5) return 0;
  if (p < 0.5) return -studentQuantile(1 - p, degrees);
  if (!(p < 1)) return p === 1 ? Number.POSITIVE_INFINITY : Number.NaN;
  let low = 0;
  let high = Math.max(2, 2 * normalQuantile(p));
  while (studentProbability(high, degrees) < p) {
    low = high;
    high *= 2;
  }
  for (let n = 0; n < 200 && high - low > 1e-14 * high; n++) {
    const middle = (low + high) / 2;
    if (studentProbability(middle, degrees) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** NaN gives NaN; degrees <= 0 give NaN. Cumulative probability of Student's t (Abramowitz & Stegun 26.7.1). */
export function studentProbability(t: number, degrees: number): number {
  const tail = 0.5 * regularisedBeta(degrees / (degrees + t * t), degrees / 2);
  return t > 0 ? 1 - tail : tail;
}

/** NaN gives NaN; x outside 0..1 is taken as the nearer end. Incomplete beta I(x; a, 1/2) by continued fraction, Abramowitz & Stegun 26.5.8. */
function regularisedBeta(x: number, a: number): number {
  const b = 0.5;
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  const front = Math.exp(a * Math.log(x) + b * Math.log(1 - x) - logBeta(a));
  return x < (a + 1) / (a + b + 2) ? (front * fraction(x, a, b)) / a : 1 - (front * fraction(1 - x, b, a)) / b;
}

/** Logarithms of complete beta functions that were asked for: few degrees of freedom come again and again. */
const KNOWN = new Map<number, number>();
const MOST = 1000;

/** ln B(a, 1/2). */
function logBeta(a: number): number {
  const known = KNOWN.get(a);
  if (known !== undefined) return known;
  const value = gammaln(a) + gammaln(0.5) - gammaln(a + 0.5);
  if (KNOWN.size >= MOST) KNOWN.clear();
  KNOWN.set(a, value);
  return value;
}

/** Modified Lentz evaluation. */
function fraction(x: number, a: number, b: number): number {
  const tiny = 1e-300;
  let c = 1;
  let d = 1 - ((a + b) * x) / (a + 1);
  if (Math.abs(d) < tiny) d = tiny;
  d = 1 / d;
  let h = d;
  for (let m = 1; m < 1000; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 + even * d;
    if (Math.abs(d) < tiny) d = tiny;
    c = 1 + even / c;
    if (Math.abs(c) < tiny) c = tiny;
    d = 1 / d;
    h *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 + odd * d;
    if (Math.abs(d) < tiny) d = tiny;
    c = 1 + odd / c;
    if (Math.abs(c) < tiny) c = tiny;
    d = 1 / d;
    const change = d * c;
    h *= change;
    if (Math.abs(change - 1) < 1e-15) break;
  }
  return h;
}
