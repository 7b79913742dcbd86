import { quickselect } from 'simple-statistics';
import { asNumbers, finiteForNow } from './finite.js';

/**
 * NaN is skipped; empty gives NaN; `p` outside 0..1 throws RangeError.
 * Type 7 of Hyndman & Fan, The American Statistician 50 (1996) 361-365, by selection (Floyd-Rivest), not by sorting.
 */
export function quantile(values: ArrayLike<number>, p: number): number {
  return quantileInPlace(finiteForNow(values), p);
}

/** NaN is skipped; empty gives NaN. */
export function median(values: ArrayLike<number>): number {
  return quantileInPlace(finiteForNow(values), 0.5);
}

/** No NaN allowed; reorders `x`; empty gives NaN. The value that would stand at index `k` of the sorted array. */
export function orderStatistic(x: Float64Array, k: number): number {
  if (x.length === 0) return Number.NaN;
  quickselect(asNumbers(x), k);
  return x[k]!;
}

/** No NaN allowed; reorders `x`. For callers that own the array. */
export function quantileInPlace(x: Float64Array, p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`quantile: p is ${p}, expected 0..1`);
  const n = x.length;
  if (n === 0) return Number.NaN;
  if (n === 1) return x[0]!;
  const h = (n - 1) * p;
  const low = Math.floor(h);
  quickselect(asNumbers(x), low);
  const below = x[low]!;
  if (h === low) return below;
  // After selection everything right of `low` is at least as large: the next order statistic is its minimum.
  let above = Number.POSITIVE_INFINITY;
  for (let i = low + 1; i < n; i++) if (x[i]! < above) above = x[i]!;
  return below + (h - low) * (above - below);
}

/** No NaN allowed; puts the first `count` values in order, by insertion: for a dozen, many times over. None gives NaN. */
export function medianOfFew(values: Float64Array, count: number): number {
  insertInOrder(values, count);
  if (count === 0) return Number.NaN;
  const low = (count - 1) >> 1;
  const below = values[low]!;
  return count % 2 === 1 ? below : below + 0.5 * (values[low + 1]! - below);
}

/** No NaN allowed; the first `count` values ascend afterwards. For few of them. */
export function insertInOrder(values: Float64Array, count: number): void {
  for (let i = 1; i < count; i++) {
    const x = values[i]!;
    let k = i;
    for (; k > 0 && values[k - 1]! > x; k--) values[k] = values[k - 1]!;
    values[k] = x;
  }
}
