/** NaN is passed over; a window of NaN gives NaN. Highest less lowest value within `reach` seconds up to each row. */
export function windowRange(values: Float64Array, time: Float64Array, reach: number): Float64Array {
  const n = values.length;
  const result = new Float64Array(n).fill(Number.NaN);
  const lows = new Int32Array(n);
  const highs = new Int32Array(n);
  let [lowHead, lowTail, highHead, highTail] = [0, 0, 0, 0];
  for (let i = 0; i < n; i++) {
    const x = values[i]!;
    if (!Number.isNaN(x)) {
      while (lowTail > lowHead && values[lows[lowTail - 1]!]! >= x) lowTail--;
      lows[lowTail++] = i;
      while (highTail > highHead && values[highs[highTail - 1]!]! <= x) highTail--;
      highs[highTail++] = i;
    }
    const from = time[i]! - reach - 1e-9;
    while (lowHead < lowTail && time[lows[lowHead]!]! < from) lowHead++;
    while (highHead < highTail && time[highs[highHead]!]! < from) highHead++;
    if (lowHead < lowTail) result[i] = values[highs[highHead]!]! - values[lows[lowHead]!]!;
  }
  return result;
}
