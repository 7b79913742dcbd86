/** NaN is passed over. Lowest value within `reach` seconds before and after each row. */
export function windowMinimum(values: Float64Array, time: Float64Array, reach: number): Float64Array {
  const n = values.length;
  const result = new Float64Array(n).fill(Number.NaN);
  const queue = new Int32Array(n);
  let head = 0;
  let tail = 0;
  let right = 0;
  for (let i = 0; i < n; i++) {
    for (; right < n && time[right]! <= time[i]! + reach + 1e-9; right++) {
      const x = values[right]!;
      if (Number.isNaN(x)) continue;
      while (tail > head && values[queue[tail - 1]!]! >= x) tail--;
      queue[tail++] = right;
    }
    while (head < tail && time[queue[head]!]! < time[i]! - reach - 1e-9) head++;
    if (head < tail) result[i] = values[queue[head]!]!;
  }
  return result;
}
