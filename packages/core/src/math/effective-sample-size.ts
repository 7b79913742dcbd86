import { autocorrelation } from './correlation.js';
import { finite } from './finite.js';

/**
 * NaN is dropped; fewer than 3 values give their number. Independent samples that a serially correlated series is
 * worth, n (1 - r1) / (1 + r1) for a first-order process, never above n nor below 1:
 * Bayley & Hammersley, J. R. Statist. Soc. Suppl. 8 (1946) 184-197.
 */
export function effectiveSampleSize(values: ArrayLike<number>): number {
  const x = finite(values);
  const n = x.length;
  if (n < 3) return n;
  const r = autocorrelation(x);
  if (!(r > 0)) return n;
  return Math.max(1, (n * (1 - r)) / (1 + r));
}
