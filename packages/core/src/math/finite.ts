/** NaN and infinities are dropped, the rest is copied; empty in, empty out. */
export function finite(values: ArrayLike<number>): Float64Array {
  const kept = new Float64Array(values.length);
  let n = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isFinite(x)) kept[n++] = x;
  }
  return kept.subarray(0, n);
}

/** simple-statistics declares `number[]` but only indexes and counts: typed arrays pass. */
export function asNumbers(values: Float64Array): number[] {
  return values as unknown as number[];
}
