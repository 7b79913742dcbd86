/** NaN and infinities are dropped, the rest is copied; empty in, empty out. */
export function finite(values: ArrayLike<number>): Float64Array {
  const kept = new Float64Array(values.length);
  return kept.subarray(0, copyFinite(values, kept));
}

let taken = new Float64Array(0);

/**
 * {@link finite} in memory that the next call takes again, for those who are done with it by then: pages that nobody has
 * touched cost a multiple of copying into them.
 */
export function finiteForNow(values: ArrayLike<number>): Float64Array {
  if (taken.length < values.length) taken = new Float64Array(values.length);
  return taken.subarray(0, copyFinite(values, taken));
}

function copyFinite(values: ArrayLike<number>, kept: Float64Array): number {
  let n = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isFinite(x)) kept[n++] = x;
  }
  return n;
}

/** simple-statistics declares `number[]` but only indexes and counts: typed arrays pass. */
export function asNumbers(values: Float64Array): number[] {
  return values as unknown as number[];
}
