import { gammaln } from 'simple-statistics';
import { normalQuantile } from './normal-quantile.js';

/**
 * NaN gives NaN; x <= 0 gives 0; shape <= 0 throws RangeError.
 * Regularised lower incomplete gamma P(shape, x), by series below shape + 1 and continued fraction above:
 * Abramowitz & Stegun 6.5.29 and 6.5.31.
 */
export function regularisedGamma(shape: number, x: number): number {
  if (!(shape > 0)) throw new RangeError(`regularisedGamma: shape is ${shape}, expected > 0`);
  if (Number.isNaN(x)) return Number.NaN;
  if (x <= 0) return 0;
  const front = Math.exp(-x + shape * Math.log(x) - gammaln(shape));
  if (x < shape + 1) {
    let term = 1 / shape;
    let total = term;
    for (let n = 1; n < 10_000; n++) {
      term *= x / (shape + n);
      total += term;
      if (term < total * 1e-16) break;
    }
    return Math.min(1, front * total);
  }
  // Modified Lentz evaluation of the continued fraction.
  const tiny = 1e-300;
  let b = x + 1 - shape;
  let c = 1 / tiny;
  let d = 1 / b;
  let h = d;
  for (let n = 1; n < 10_000; n++) {
    const a = -n * (n - shape);
    b += 2;
    d = a * d + b;
    if (Math.abs(d) < tiny) d = tiny;
    c = b + a / c;
    if (Math.abs(c) < tiny) c = tiny;
    d = 1 / d;
    const change = d * c;
    h *= change;
    if (Math.abs(change - 1) < 1e-16) break;
  }
  return Math.max(0, 1 - front * h);
}

/**
 * NaN gives NaN; p 0 gives 0, p 1 gives infinity; outside 0..1 or shape <= 0 throws RangeError.
 * Gamma quantile (scale 1): Wilson-Hilferty start, then bisection-guarded Newton on {@link regularisedGamma}.
 */
export function gammaQuantile(p: number, shape: number): number {
  if (p < 0 || p > 1) throw new RangeError(`gammaQuantile: p is ${p}, expected 0..1`);
  if (!(shape > 0)) throw new RangeError(`gammaQuantile: shape is ${shape}, expected > 0`);
  if (Number.isNaN(p)) return Number.NaN;
  if (p === 0) return 0;
  if (p === 1) return Number.POSITIVE_INFINITY;
  const z = normalQuantile(p);
  const cube = 1 - 1 / (9 * shape) + z / (3 * Math.sqrt(shape));
  let x = cube > 0 ? shape * cube * cube * cube : 0;
  // For small shapes the start can be 0 or far off: the leading term of the series is safer there.
  if (!(x > 1e-8)) x = Math.exp((Math.log(p) + gammaln(shape + 1)) / shape);
  let low = 0;
  let high = Number.POSITIVE_INFINITY;
  for (let n = 0; n < 200; n++) {
    const error = regularisedGamma(shape, x) - p;
    if (error === 0) return x;
    if (error > 0) high = x;
    else low = x;
    const density = Math.exp(-x + (shape - 1) * Math.log(x) - gammaln(shape));
    let next = x - error / density;
    if (!(next > low && next < high)) next = high === Number.POSITIVE_INFINITY ? 2 * x + 1 : (low + high) / 2;
    if (Math.abs(next - x) <= 1e-14 * x) return next;
    x = next;
  }
  return x;
}

/** NaN gives NaN. Chi-square quantile: twice the gamma quantile of half the degrees of freedom. */
export function chiSquareQuantile(p: number, degrees: number): number {
  return 2 * gammaQuantile(p, degrees / 2);
}
