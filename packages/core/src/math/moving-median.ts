import { MAD_TO_SIGMA } from './madn.js';

/**
 * NaN is no sample: skipped inside windows, and a NaN centre stays NaN; windows shrink at the ends; empty gives empty.
 * Median over `2 * half + 1` samples, by insertion into one sorted window.
 */
export function movingMedian(values: ArrayLike<number>, half: number): Float64Array {
  const n = values.length;
  const result = new Float64Array(n).fill(Number.NaN);
  // One place more: the entering sample is inserted before the leaving one is taken out.
  const window = new Float64Array(2 * half + 2);
  let size = 0;
  for (let i = 0; i < Math.min(half, n); i++) size = insert(window, size, values[i]!);
  for (let i = 0; i < n; i++) {
    if (i + half < n) size = insert(window, size, values[i + half]!);
    if (i - half - 1 >= 0) size = remove(window, size, values[i - half - 1]!);
    if (!Number.isNaN(values[i]!)) result[i] = middle(window, size);
  }
  return result;
}

export interface Hampel {
  /** Outliers replaced by the median of their window. */
  readonly cleaned: Float64Array;
  /** Rows that were outliers, ascending. */
  readonly flagged: readonly number[];
}

/**
 * NaN is no sample and stays NaN; windows shrink at the ends; empty gives empty.
 * Hampel identifier: further than `sigmas` * 1.4826 MAD from the median of the window of `2 * half + 1` samples.
 * @param floor smallest deviation that counts, e.g. two quanta: a window of equal values has MAD 0
 */
export function hampel(values: ArrayLike<number>, half: number, sigmas = 3, floor = 0): Hampel {
  const n = values.length;
  const medians = movingMedian(values, half);
  const cleaned = new Float64Array(n);
  const flagged: number[] = [];
  const deviations = new Float64Array(2 * half + 1);
  for (let i = 0; i < n; i++) {
    const x = values[i]!;
    cleaned[i] = x;
    const off = Math.abs(x - medians[i]!);
    // Cheap test first: only a sample off its median by more than the floor can be an outlier.
    if (!(off > floor)) continue;
    let size = 0;
    const to = Math.min(n - 1, i + half);
    for (let j = Math.max(0, i - half); j <= to; j++)
      size = insert(deviations, size, Math.abs(values[j]! - medians[i]!));
    if (off > sigmas * MAD_TO_SIGMA * middle(deviations, size)) {
      cleaned[i] = medians[i]!;
      flagged.push(i);
    }
  }
  return { cleaned, flagged };
}

function insert(sorted: Float64Array, size: number, x: number): number {
  if (Number.isNaN(x)) return size;
  let k = size;
  while (k > 0 && sorted[k - 1]! > x) {
    sorted[k] = sorted[k - 1]!;
    k--;
  }
  sorted[k] = x;
  return size + 1;
}

function remove(sorted: Float64Array, size: number, x: number): number {
  if (Number.isNaN(x)) return size;
  let k = 0;
  while (sorted[k] !== x) k++;
  for (; k + 1 < size; k++) sorted[k] = sorted[k + 1]!;
  return size - 1;
}

function middle(sorted: Float64Array, size: number): number {
  if (size === 0) return Number.NaN;
  const k = size >> 1;
  return size % 2 === 1 ? sorted[k]! : (sorted[k - 1]! + sorted[k]!) / 2;
}
