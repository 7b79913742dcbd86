/** A NaN argument or an empty table gives NaN; beyond the ends the end values hold (as numpy.interp). `xp` ascending, no NaN. */
export function interpolate(x: number, xp: ArrayLike<number>, fp: ArrayLike<number>): number {
  const n = Math.min(xp.length, fp.length);
  if (n === 0 || Number.isNaN(x)) return Number.NaN;
  if (x <= xp[0]!) return fp[0]!;
  if (x >= xp[n - 1]!) return fp[n - 1]!;
  const k = lastAtOrBefore(xp, x, n);
  const x0 = xp[k]!;
  const span = xp[k + 1]! - x0;
  return span > 0 ? fp[k]! + ((x - x0) / span) * (fp[k + 1]! - fp[k]!) : fp[k]!;
}

/** Index of the last entry <= x in an ascending array, -1 when all are greater; NaN gives -1. */
export function lastAtOrBefore(ascending: ArrayLike<number>, x: number, length = ascending.length): number {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle]! <= x) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
