/** Pedal rise that counts as a stamp: this many points within this many seconds (common practice, no source). */
const RISE = 40;
const WITHIN = 0.5;
/** Air and fuel settle, and the knock control reacts to the filling step, for about this long (s). */
const SETTLING = 1;

/**
 * Rows within the first second after a fast pedal rise (>= 40 points within 0.5 s). NaN samples neither start nor
 * end a rise. Empty input gives an empty mask.
 * @param pedal %, held between samples; @param time seconds; @param spacing typical spacing of fresh pedal values (s):
 * a slow log cannot show 0.5 s, so there the rise may take 1.5 spacings and the window grows by one.
 */
export function tipIns(pedal: Float64Array, time: Float64Array, spacing: number): Uint8Array {
  const mask = new Uint8Array(pedal.length);
  const slack = Number.isFinite(spacing) ? spacing : 0;
  const within = Math.max(WITHIN, 1.5 * slack) + 1e-6;
  const lowest = lowestOf(pedal);
  let marked = 0;
  for (let i = nextRise(pedal, time, within, lowest, 1); i < pedal.length; ) {
    const from = lowBefore(pedal, time, within, i);
    const end = time[from]! + SETTLING + slack;
    for (let k = Math.max(from, marked); k < pedal.length && time[k]! <= end; k++) {
      mask[k] = 1;
      marked = k + 1;
    }
    i = nextRise(pedal, time, within, lowest, i + 1);
  }
  return mask;
}

function lowestOf(values: Float64Array): number {
  let lowest = Number.POSITIVE_INFINITY;
  for (let i = 0; i < values.length; i++) if (values[i]! < lowest) lowest = values[i]!;
  return lowest;
}

/** First row from `from` that ends a fast rise; the number of rows when there is none. */
function nextRise(pedal: Float64Array, time: Float64Array, within: number, lowest: number, from: number): number {
  // What rises no further than the row before it, which ended no rise, ends none either.
  let before = Number.NaN;
  let i = from;
  for (; i < pedal.length; i++) {
    const now = pedal[i]!;
    // Most of the time the pedal is not far enough down to have been stamped on.
    const down = now - lowest >= RISE && !(now <= before);
    before = now;
    if (down && lowBefore(pedal, time, within, i) >= 0) break;
  }
  return i;
}

/** Last row before row `i`, and no longer than `within` before it, from which the pedal has risen; -1 when there is none. */
function lowBefore(pedal: Float64Array, time: Float64Array, within: number, i: number): number {
  let j = i - 1;
  while (j >= 0 && time[i]! - time[j]! <= within && !(pedal[i]! - pedal[j]! >= RISE)) j--;
  return j >= 0 && time[i]! - time[j]! <= within ? j : -1;
}
