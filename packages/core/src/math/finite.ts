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

/** The samples at the given rows, in that order; NaN stays NaN. */
export function gather(values: ArrayLike<number>, rows: ArrayLike<number>): Float64Array {
  const picked = new Float64Array(rows.length);
  for (let k = 0; k < rows.length; k++) picked[k] = values[rows[k]!]!;
  return picked;
}

/** The samples at rows where the mask is 1 and a sample exists; empty in, empty out. */
export function select(values: ArrayLike<number>, mask: Uint8Array): Float64Array {
  const kept = new Float64Array(values.length);
  let n = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (mask[i] === 1 && Number.isFinite(x)) kept[n++] = x;
  }
  return kept.subarray(0, n);
}

/** simple-statistics declares `number[]` but only indexes and counts: typed arrays pass. */
export function asNumbers(values: Float64Array): number[] {
  return values as unknown as number[];
}
