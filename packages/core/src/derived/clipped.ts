import type { Channel } from '../recording/recording.js';

/** kPa; end of a pressure that is sent as one byte in whole kPa (SAE J1979 PID 0B: 0 to 255 kPa). */
const BYTE_END = 255;
/** Rows that stand at the end before it counts as one. */
const ROWS = 3;

/**
 * NaN never is clipped. 1 at the rows where a pressure (kPa) stands at the end of its range and therefore is a bound and
 * no reading: stretches that the reader found saturated, and a pressure flat at 255 kPa that never goes beyond.
 */
export function clippedRows(
  channel: Pick<Channel, 'values' | 'quality'>,
  values: Float64Array,
  time: Float64Array,
): Uint8Array {
  const mask = new Uint8Array(values.length);
  for (const { from, to } of channel.quality.saturated)
    for (let i = 0; i < mask.length; i++) if (time[i]! >= from && time[i]! <= to) mask[i] = 1;
  let top = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) if (values[i]! > top) top = values[i]!;
  if (Math.abs(top - BYTE_END) > 0.6) return mask;
  let run = 0;
  for (let i = 0; i <= values.length; i++) {
    if (i < values.length && values[i]! >= top - 1e-6) run++;
    else {
      if (run >= ROWS) mask.fill(1, i - run, i);
      run = 0;
    }
  }
  return mask;
}
