/**
 * NaN samples are skipped; NaN where fewer than three samples span half of the window. Least-squares slope (per second)
 * around each row, over the samples within `window` seconds on both sides and within the same block.
 * @param rows ascending rows to use; @param block number of the stretch that each row of `values` belongs to: a slope
 * never crosses from one into another; NaN = none.
 * @returns slopes row by row of `rows`
 */
export function localSlope(
  time: Float64Array,
  values: Float64Array,
  rows: Int32Array,
  window: number,
  block: Float64Array,
): Float64Array {
  const slopes = new Float64Array(rows.length).fill(Number.NaN);
  let low = 0;
  for (let k = 0; k < rows.length; k++) {
    const row = rows[k]!;
    const t = time[row]!;
    while (time[rows[low]!]! < t - window) low++;
    if (Number.isNaN(block[row]!)) continue;
    let count = 0;
    let sx = 0;
    let sy = 0;
    let sxx = 0;
    let sxy = 0;
    for (let j = low; j < rows.length; j++) {
      const other = rows[j]!;
      const x = time[other]! - t;
      if (x > window) break;
      const y = values[other]!;
      if (block[other] !== block[row] || Number.isNaN(y)) continue;
      count++;
      sx += x;
      sy += y;
      sxx += x * x;
      sxy += x * y;
    }
    const spread = sxx - (sx * sx) / count;
    // Three samples evenly over a span of `window` (half of what is looked at) have a spread of window^2 / 2.
    if (count >= 3 && spread >= 0.45 * window * window) slopes[k] = (sxy - (sx * sy) / count) / spread;
  }
  return slopes;
}
