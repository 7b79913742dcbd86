/**
 * Nothing is looked at; no rows give none. At most about `most` of the rows, evenly spread, in their order; the same
 * array when there are no more. For medians and spreads of long recordings, whose neighbours repeat one another.
 */
export function evenly(rows: Int32Array, most: number): Int32Array {
  const every = Math.floor(rows.length / most);
  if (every < 2) return rows;
  const kept = new Int32Array(Math.floor((rows.length - 1) / every) + 1);
  for (let i = 0; i < kept.length; i++) kept[i] = rows[i * every]!;
  return kept;
}
