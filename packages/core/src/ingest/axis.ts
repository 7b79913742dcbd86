import type { Problem } from '../recording/problem.js';

/** The settled time axis. */
export interface Axis {
  /** Seconds from the first kept row, strictly increasing. */
  readonly time: Float64Array;
  /** Rows that are kept; undefined = all. */
  readonly keep: Uint32Array | undefined;
  readonly problems: readonly Problem[];
}

export interface AxisInput {
  /** Seconds as read, NaN = no time. */
  readonly seconds: Float64Array;
  readonly lines: Uint32Array;
  /** A clock without a date starts again at midnight. */
  readonly clock: boolean;
  /** Local clock with date and without zone: jumps of one hour are a change to or from daylight saving time. */
  readonly local: boolean;
  /** Seconds per count of a numeric time, for counters that overflow; 0 = not numeric. */
  readonly scale: number;
  readonly column: number;
}

/** Placeholder of the repair below. */
export function settleAxis(input: AxisInput): Axis {
  const { seconds } = input;
  const keep: number[] = [];
  let last = -Infinity;
  for (let i = 0; i < seconds.length; i++) {
    if (!(seconds[i]! > last)) continue;
    last = seconds[i]!;
    keep.push(i);
  }
  const time = new Float64Array(keep.length);
  for (let i = 0; i < keep.length; i++) time[i] = seconds[keep[i]!]! - seconds[keep[0]!]!;
  const all = keep.length === seconds.length;
  return { time, keep: all ? undefined : Uint32Array.from(keep), problems: [] };
}
