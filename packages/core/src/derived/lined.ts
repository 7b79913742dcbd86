import type { Drive } from './recipe.js';
import { samplesOf } from './samples.js';

/** Share of the rows from which on a channel counts as measured in each row. */
const EACH_ROW = 0.8;
/** Own intervals beyond which nothing is drawn. */
const LONGEST = 2.5;

/**
 * NaN stays NaN. A channel that is logged less often than rows are written, row by row, as lines between its fresh
 * samples in place of steps; held where samples are further apart than 2.5 own intervals. The same array when it is
 * fresh in each row.
 * @param fresh rows measured anew
 * @param hz fresh samples per second
 */
export function lined(drive: Drive, values: Float64Array, fresh: Int32Array, hz: number): Float64Array {
  if (hz >= EACH_ROW / samplesOf(drive).spacing) return values;
  const { time } = drive;
  const found = values.slice();
  for (let k = 1; k < fresh.length; k++) {
    const [a, b] = [fresh[k - 1]!, fresh[k]!];
    const span = time[b]! - time[a]!;
    if (span > LONGEST / hz) continue;
    for (let i = a + 1; i < b; i++) found[i] = values[a]! + ((values[b]! - values[a]!) * (time[i]! - time[a]!)) / span;
  }
  return found;
}

/** The same of a logged channel, empty cells held; undefined when absent. A quotient of two channels needs both as lines. */
export function linedOf(drive: Drive, id: string): Float64Array | undefined {
  const samples = samplesOf(drive);
  const held = samples.held(id);
  return held === undefined ? undefined : lined(drive, held, samples.fresh(id), samples.hz(id));
}
