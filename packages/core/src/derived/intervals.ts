import { lastAtOrBefore } from '../math/interpolate.js';

/** Stretch of a recording: seconds of its first and last row, and these rows, inclusive. */
export interface Segment {
  readonly from: number;
  readonly to: number;
  readonly start: number;
  readonly end: number;
}

export interface SegmentOptions {
  /** Seconds from first to last row that a segment must last. */
  readonly minDuration?: number;
  /** Interruptions up to this many seconds (last row that holds to next row that holds) are bridged. */
  readonly maxGap?: number;
  /** A step of the time axis longer than this (s) ends a segment: nobody knows what happened there. */
  readonly maxStep?: number;
}

/** Mask 0 = does not hold; empty gives none. Runs of 1 in a mask as segments, in order. */
export function segmentsOf(mask: Uint8Array, time: Float64Array, options: SegmentOptions = {}): Segment[] {
  const { minDuration = 0, maxGap = 0, maxStep = Number.POSITIVE_INFINITY } = options;
  const found: Segment[] = [];
  let start = mask.indexOf(1);
  let end = start;
  while (start >= 0) {
    end = lastOfRun(mask, time, end, maxStep);
    const next = mask.indexOf(1, end + 1);
    const joined =
      next >= 0 && (next === end + 1 || time[next]! - time[end]! <= maxGap) && time[next]! - time[next - 1]! <= maxStep;
    if (!joined) {
      close(found, start, end, time, minDuration);
      start = next;
    }
    end = next;
  }
  return found;
}

/** Last row of those that hold one after the other from row `from`, without a longer step of time. */
function lastOfRun(mask: Uint8Array, time: Float64Array, from: number, maxStep: number): number {
  let last = from;
  while (last + 1 < mask.length && mask[last + 1] === 1 && time[last + 1]! - time[last]! <= maxStep) last++;
  return last;
}

function close(found: Segment[], start: number, end: number, time: Float64Array, minDuration: number): void {
  const from = time[start]!;
  const to = time[end]!;
  // A thousandth of a second is the resolution of printed times: 2.0 s must not be missed as 1.9999999.
  if (to - from >= minDuration - 1e-6) found.push({ from, to, start, end });
}

/** 1 in the rows that hold. An indexed loop: `Uint8Array.from` with a mapping takes some thirty times as long. */
export function maskWhere(rows: number, holds: (row: number) => boolean): Uint8Array {
  const mask = new Uint8Array(rows);
  for (let i = 0; i < rows; i++) if (holds(i)) mask[i] = 1;
  return mask;
}

/** 1 at the rows of the segments. */
export function maskOf(segments: readonly Segment[], rows: number): Uint8Array {
  const mask = new Uint8Array(rows);
  for (const { start, end } of segments) mask.fill(1, start, end + 1);
  return mask;
}

/** NaN time is in none. Segment that holds time `t`, or undefined; segments in order and apart. */
export function within(segments: readonly Segment[], t: number): Segment | undefined {
  let low = 0;
  let high = segments.length - 1;
  while (low <= high) {
    const middle = (low + high) >> 1;
    const segment = segments[middle]!;
    if (t < segment.from) high = middle - 1;
    else if (t > segment.to) low = middle + 1;
    else return t >= segment.from ? segment : undefined;
  }
  return undefined;
}

/** Segments widened by `before` and `after` seconds, cut at the ends of the recording, merged where they meet. */
export function widened(segments: readonly Segment[], time: Float64Array, before: number, after = before): Segment[] {
  const result: Segment[] = [];
  for (const segment of segments) {
    const start = firstAtOrAfter(time, segment.from - before);
    const end = Math.max(start, lastAtOrBefore(time, segment.to + after));
    const last = result[result.length - 1];
    if (last !== undefined && start <= last.end + 1) {
      if (end > last.end) result[result.length - 1] = { ...last, to: time[end]!, end };
    } else result.push({ from: time[start]!, to: time[end]!, start, end });
  }
  return result;
}

/** Sum of the durations (s). */
export function totalDuration(segments: readonly Segment[]): number {
  let total = 0;
  for (const { from, to } of segments) total += to - from;
  return total;
}

/** First row at or after time `t`; the number of rows when there is none. */
export function firstAtOrAfter(time: ArrayLike<number>, t: number): number {
  let low = 0;
  let high = time.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[middle]! < t) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** {@link firstAtOrAfter} of each of `times`, which ascend: one walk along both. */
export function rowsAtOrAfter(time: Float64Array, times: Float64Array): Int32Array {
  const rows = new Int32Array(times.length);
  let row = 0;
  for (let i = 0; i < times.length; i++) {
    while (row < time.length && time[row]! < times[i]!) row++;
    rows[i] = row;
  }
  return rows;
}

/**
 * NaN keeps the state. Mask of a quantity that enters at or above `enter` and leaves below `leave`
 * (for `leave` > `enter`: enters at or below, leaves above).
 */
export function hysteresis(values: ArrayLike<number>, enter: number, leave: number): Uint8Array {
  const mask = new Uint8Array(values.length);
  const sign = leave > enter ? -1 : 1;
  let inside = false;
  for (let i = 0; i < values.length; i++) {
    const x = sign * values[i]!;
    if (x >= sign * enter) inside = true;
    else if (x < sign * leave) inside = false;
    if (inside) mask[i] = 1;
  }
  return mask;
}

/** 1 where both masks hold. */
export function both(a: Uint8Array, b: Uint8Array): Uint8Array {
  const mask = new Uint8Array(a.length);
  for (let i = 0; i < a.length; i++) mask[i] = a[i]! & b[i]!;
  return mask;
}

/** 1 where the first mask holds and the second does not. */
export function except(a: Uint8Array, b: Uint8Array): Uint8Array {
  const mask = new Uint8Array(a.length);
  for (let i = 0; i < a.length; i++) mask[i] = a[i]! & (b[i]! ^ 1);
  return mask;
}
