import { MAD_TO_SIGMA } from './madn.js';

/**
 * NaN is no sample: skipped inside windows, and a NaN centre stays NaN; windows shrink at the ends; empty gives empty.
 * Median over `2 * half + 1` samples. One sorted window: the entering sample takes the place of the leaving one, and what
 * lies between the two moves by one. A held reading, which leaves what enters, moves nothing.
 */
export function movingMedian(values: ArrayLike<number>, half: number): Float64Array {
  const n = values.length;
  const result = new Float64Array(n).fill(Number.NaN);
  // One place more: where only one of the two is a sample, the entering one is inserted before the leaving one is taken out.
  const window = new Float64Array(2 * half + 2);
  let size = 0;
  for (let i = 0; i < Math.min(half, n); i++) size = insert(window, size, values[i]!);
  for (let i = 0; i < n; i++) {
    const entering = i + half < n ? values[i + half]! : Number.NaN;
    const leaving = i - half - 1 >= 0 ? values[i - half - 1]! : Number.NaN;
    if (entering !== leaving) {
      if (entering < leaving || entering > leaving) replace(window, size, leaving, entering);
      else {
        size = insert(window, size, entering);
        size = remove(window, size, leaving);
      }
    }
    if (!Number.isNaN(values[i]!)) result[i] = middle(window, size);
  }
  return result;
}

/** Puts `x` in the place of `old`, which is in the window and differs from it. */
function replace(sorted: Float64Array, size: number, old: number, x: number): void {
  let low = 0;
  let high = size - 1;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (sorted[mid]! < old) low = mid + 1;
    else high = mid;
  }
  if (x > old) {
    while (low + 1 < size && sorted[low + 1]! < x) {
      sorted[low] = sorted[low + 1]!;
      low++;
    }
  } else {
    while (low > 0 && sorted[low - 1]! > x) {
      sorted[low] = sorted[low - 1]!;
      low--;
    }
  }
  sorted[low] = x;
}

export interface Hampel {
  /** Outliers replaced by the median of their window; the values themselves when there are none. */
  readonly cleaned: Float64Array;
  /** {@link movingMedian} of the values. */
  readonly medians: Float64Array;
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
  const flagged: number[] = [];
  const deviations = new Float64Array(2 * half + 1);
  for (let i = 0; i < n; i++) {
    const off = Math.abs(values[i]! - medians[i]!);
    // Cheap test first: only a sample off its median by more than the floor can be an outlier.
    if (!(off > floor)) continue;
    let size = 0;
    const to = Math.min(n - 1, i + half);
    for (let j = Math.max(0, i - half); j <= to; j++)
      size = insert(deviations, size, Math.abs(values[j]! - medians[i]!));
    if (off > sigmas * MAD_TO_SIGMA * middle(deviations, size)) flagged.push(i);
  }
  const same = flagged.length === 0 && values instanceof Float64Array;
  const cleaned = same ? values : Float64Array.from(values);
  for (const i of flagged) cleaned[i] = medians[i]!;
  return { cleaned, medians, flagged };
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
