/**
 * NaN values and weights that are not above 0 are left out; nothing left gives NaN. The lower weighted median: the least
 * value at or below which at least half of the weight lies. Infinite values are ordered as such.
 */
export function weightedMedian(values: ArrayLike<number>, weights: ArrayLike<number>): number {
  const rows: number[] = [];
  let total = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i]!) || !(weights[i]! > 0)) continue;
    rows.push(i);
    total += weights[i]!;
  }
  // By comparison, not by difference: infinity less infinity is no number.
  rows.sort((a, b) => (values[a]! < values[b]! ? -1 : values[a]! > values[b]! ? 1 : 0));
  let sum = 0;
  for (const i of rows) {
    sum += weights[i]!;
    if (sum >= total / 2) return values[i]!;
  }
  return Number.NaN;
}
