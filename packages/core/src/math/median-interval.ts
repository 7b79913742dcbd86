import type { Bounds } from './count-interval.js';
import { finite } from './finite.js';
import { normalQuantile } from './normal-quantile.js';
import { quantileInPlace } from './quantile.js';

/**
 * NaN is dropped; empty gives NaN. Distribution-free confidence interval of the median from order statistics
 * (Conover, Practical Nonparametric Statistics, 3.2), normal approximation of the binomial ranks.
 * @param effective independent samples the series is worth (see `effectiveSampleSize`); widens the ranks
 */
export function medianInterval(values: ArrayLike<number>, level = 0.95, effective?: number): Bounds {
  const x = finite(values);
  const n = x.length;
  if (n === 0) return { low: Number.NaN, high: Number.NaN };
  const worth = Math.min(n, Math.max(1, effective ?? n));
  const z = normalQuantile(0.5 + level / 2);
  // Rank of the lower end in a sample of `worth`, as a share, carried over to the n values at hand.
  const share = 0.5 - z / (2 * Math.sqrt(worth));
  const low = Math.max(0, Math.min(n - 1, Math.ceil(n * share) - 1));
  const high = n - 1 - low;
  return {
    low: quantileInPlace(x, n === 1 ? 0 : low / (n - 1)),
    high: quantileInPlace(x, n === 1 ? 0 : high / (n - 1)),
  };
}
