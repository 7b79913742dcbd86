import { quantileSorted } from 'simple-statistics';

/**
 * Ascending, without NaN; empty throws. Quantile of sorted values, as `quantileSorted` of simple-statistics, which reads
 * typed arrays as well as lists though its types do not say so.
 */
export function sortedQuantile(values: Float64Array, share: number): number {
  return quantileSorted(values as unknown as number[], share);
}
