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
  let marked = 0;
  let lowest = Number.POSITIVE_INFINITY;
  for (let i = 0; i < pedal.length; i++) if (pedal[i]! < lowest) lowest = pedal[i]!;
  for (let i = 1; i < pedal.length; i++) {
    const now = pedal[i]!;
    // Most of the time the pedal is not far enough down to have been stamped on.
    if (!(now - lowest >= RISE)) continue;
    for (let j = i - 1; j >= 0 && time[i]! - time[j]! <= within; j--) {
      if (!(now - pedal[j]! >= RISE)) continue;
      const end = time[j]! + SETTLING + slack;
      for (let k = Math.max(j, marked); k < pedal.length && time[k]! <= end; k++) {
        mask[k] = 1;
        marked = k + 1;
      }
      break;
    }
  }
  return mask;
}
