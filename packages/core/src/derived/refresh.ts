import { median } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { type Refusal, refuse } from './recipe.js';

/**
 * NaN is no sample. Rows at which a value was measured anew: it changed, or, where the rate is known, it was held so
 * long that it must have been measured again and found equal. In a column with many empty cells every filled cell is
 * a measurement.
 * @param hz fresh values per second, when known
 * @param full true when no cell is known to be empty: it is not looked again
 */
export function freshIndices(
  values: Float64Array,
  time: Float64Array,
  hz: number = Number.NaN,
  full = false,
): Int32Array {
  const rows = new Int32Array(values.length);
  const put = !full && isSparse(values) ? filledRows(values, rows) : changedRows(values, time, 1 / hz, rows);
  return rows.subarray(0, put);
}

// Loops over all rows end with the return of a number: whatever else came after them would run for the first time there, so
// that the compiled loop would be left and the next column be read by the interpreter.

/** Puts the rows with a sample into `rows`: how many. */
function filledRows(values: Float64Array, rows: Int32Array): number {
  let count = 0;
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) rows[count++] = i;
  return count;
}

/** Puts the rows with another sample than the one before into `rows`, and those at which one was due again: how many. */
function changedRows(values: Float64Array, time: Float64Array, interval: number, rows: Int32Array): number {
  // Half an interval more: jitter must not make two samples of one.
  const grace = 1.47 * interval;
  const early = 0.98 * interval;
  let count = 0;
  let last = Number.NaN;
  let at = Number.NEGATIVE_INFINITY;
  // First row at which the held value was due again; the number of rows while there is none.
  const none = values.length;
  let due = none;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    const t = time[i]!;
    if (x !== last) {
      if (due < none && t - at >= grace) rows[count++] = due;
      rows[count++] = i;
      last = x;
      at = t;
      due = none;
      continue;
    }
    if (due === none && t - at >= early) due = i;
    if (due < none && t - at >= grace) {
      rows[count++] = due;
      at = time[due]!;
      due = t - at >= early ? i : none;
    }
  }
  if (due < none) rows[count++] = due;
  return count;
}

/** Most filled cells stand alone between empty ones: a multi-rate column, not one with samples set aside. */
export function isSparse(values: Float64Array): boolean {
  let filled = 0;
  let alone = 0;
  let before = false;
  for (let i = 0; i < values.length; i++) {
    const here = !Number.isNaN(values[i]!);
    if (here) {
      filled++;
      if (!before && i > 0) alone++;
    }
    before = here;
  }
  return filled > 0 && alone > 0.5 * filled;
}

/** Seconds between neighbouring samples of a channel (median); NaN below 2 samples. At most 4096 are looked at. */
export function sampleSpacing(values: Float64Array, time: Float64Array): number {
  const n = values.length;
  const gaps: number[] = [];
  let previous = -1;
  const stride = Math.max(1, Math.floor(filledCount(values) / 4096));
  let k = 0;
  for (let i = 0; i < n; i++) {
    if (Number.isNaN(values[i]!)) continue;
    if (previous >= 0 && k++ % stride === 0) gaps.push(time[i]! - time[previous]!);
    previous = i;
  }
  return median(gaps);
}

/** What {@link heldValues} gave for each array: many rules ask for the same channels. */
const known = new WeakMap<Float64Array, { readonly time: Float64Array; readonly held: Float64Array }>();

/**
 * Empty cells take the last sample, for up to two of the channel's own intervals, not longer; the rest stays NaN.
 * Returns the same array when nothing is empty. For masks only: a held value is no new sample.
 */
export function heldValues(values: Float64Array, time: Float64Array): Float64Array {
  const before = known.get(values);
  if (before?.time === time) return before.held;
  const held = filledUp(values, time);
  known.set(values, { time, held });
  return held;
}

function filledUp(values: Float64Array, time: Float64Array): Float64Array {
  const filled = filledCount(values);
  if (filled === 0 || filled === values.length) return values;
  const reach = 2 * sampleSpacing(values, time) + 1e-9;
  const result = new Float64Array(values.length);
  hold(values, time, reach, result);
  return result;
}

function filledCount(values: Float64Array): number {
  let filled = 0;
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) filled++;
  return filled;
}

/** Puts each sample, and for `reach` seconds the last one before it, into `result`. */
function hold(values: Float64Array, time: Float64Array, reach: number, result: Float64Array): void {
  let last = Number.NaN;
  let at = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (!Number.isNaN(x)) {
      last = x;
      at = time[i]!;
      result[i] = x;
    } else result[i] = time[i]! - at <= reach ? last : Number.NaN;
  }
}

export interface FreshRate {
  /** Fresh values per second; NaN when nothing in the recording tells. */
  readonly hz: number;
  /** False when the channel itself does not tell and the rate is that of its group. */
  readonly certain: boolean;
}

/** Rate of fresh values: the channel's own while it moves, else that of the channels with its cadence. */
export function freshRate(channel: Channel): FreshRate {
  const { rate, groupRate } = channel.quality;
  if (rate > 0) return { hz: rate, certain: true };
  return { hz: groupRate > 0 ? groupRate : Number.NaN, certain: false };
}

/**
 * Can a duration of `seconds` be judged on this channel? True, or a refusal that names the rate it takes: a duration
 * needs at least `minFresh` fresh samples. Five percent of slack, as clocks of loggers wander.
 */
export function holds(channel: Channel, seconds: number, minFresh = 3): true | Refusal {
  const { hz } = freshRate(channel);
  const needed = minFresh / seconds;
  if (hz >= 0.95 * needed) return true;
  const rate = Number.isNaN(hz) ? 'an unknown rate' : `${round(hz)} Hz`;
  return refuse(`${channel.id} brings fresh values at ${rate}, ${seconds} s need ${round(needed)} Hz`, {
    conditions: [`${channel.id} at >= ${round(needed)} Hz`],
  });
}

function round(hz: number): number {
  return Number(hz.toPrecision(2));
}
