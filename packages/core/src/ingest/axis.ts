import { runScannerOf } from '../recording/compiled-runs.js';
import type { Problem } from '../recording/problem.js';
import { spreadTicks } from './axis-tick.js';
import type { RowLines } from './row-lines.js';
import { timeGaps } from './time-gap.js';

/** The settled time axis. */
export interface Axis {
  /** Seconds from the first kept row, strictly increasing. */
  readonly time: Float64Array;
  /** Rows that are kept; undefined = all. */
  readonly keep: Uint32Array | undefined;
  readonly problems: readonly Problem[];
}

export interface AxisInput {
  /** Seconds as read, less `origin`; NaN = no time. May become the axis, and is never changed. */
  readonly seconds: Float64Array;
  /** Seconds that were taken off every value. */
  readonly origin: number;
  /** Physical line of each row. */
  readonly lines: RowLines;
  /** Seconds after which a clock starts again (86 400 at midnight, 3600 for mm:ss); 0 = never. */
  readonly period: number;
  /** Local clock with date and without zone: jumps of one hour may be a change to or from daylight saving time. */
  readonly local: boolean;
  /** Seconds per count of a numeric time, for counters that overflow; 0 = not numeric. */
  readonly scale: number;
  readonly column: number;
}

/** Rows without a time are filled in when they are at most this share, in runs of at most `FILL_RUN`. */
const FILL_SHARE = 0.05;
const FILL_RUN = 5;
/** Rows that one stray stamp or a short disorder may hold. */
const STRAY_ROWS = 3;
/** Gap (s) that stands for the unknown time between two recordings in one file. */
const RESTART_GAP = 10;

/**
 * Repairs a time axis without hiding anything: midnight and counter overflow are continued, stray rows left out, a
 * second recording joined with a gap, ticks of a coarse clock spread over their rows, and each of it reported.
 */
export function settleAxis(input: AxisInput): Axis {
  const most = mostOfRising(input.seconds);
  // A jump by an hour of a local clock is looked at more closely.
  if (most > 0 && !(input.local && most > 3000)) {
    const rising = fromFirst(input.seconds);
    return { time: rising, keep: undefined, problems: timeGaps(rising, undefined, input.lines, most) };
  }
  const walk = new Walk(input);
  walk.run();
  const spread = spreadTicks(walk.rows, walk.times, input.lines);
  const filled = fillMissing(input, spread.rows, spread.times);
  const time = fromFirst(Float64Array.from(filled.times));
  const problems = [
    ...filled.problems,
    ...walk.problems(time, filled.rows),
    ...spread.problems,
    ...timeGaps(time, filled.rows, input.lines),
  ];
  const all = filled.rows.length === input.seconds.length;
  return { time, keep: all ? undefined : Uint32Array.from(filled.rows), problems };
}

/** Rows looked at by one call of a loop: a loop over all of them would be compiled while it runs. */
const BATCH = 4096;

/** The longest step when every row has a time later than the row before: nothing to repair. Else 0. NaN is no time. */
function mostOfRising(seconds: Float64Array): number {
  if (seconds.length < 2) return Number.isNaN(seconds[0]) ? 0 : Number.MIN_VALUE;
  const longest = runScannerOf(seconds)?.rise(seconds);
  if (longest !== undefined) return longest;
  let most = 0;
  for (let from = 1; from < seconds.length; from += BATCH) {
    const step = mostOfBatch(seconds, from, Math.min(seconds.length, from + BATCH));
    if (step === 0) return 0;
    if (step > most) most = step;
  }
  return most;
}

function mostOfBatch(seconds: Float64Array, from: number, to: number): number {
  let most = 0;
  let before = seconds[from - 1]!;
  for (let i = from; i < to; i++) {
    const here = seconds[i]!;
    const step = here - before;
    // False also for what is no number.
    if (!(step > 0)) return 0;
    if (step > most) most = step;
    before = here;
  }
  return most;
}

/** Seconds from the first row. */
function fromFirst(time: Float64Array): Float64Array {
  const first = time[0] ?? 0;
  return first === 0 ? time : time.map((seconds) => seconds - first);
}

interface Event {
  readonly code: 'time-restart' | 'time-wrap' | 'clock-change';
  readonly message: string;
  readonly row: number;
}

/** One pass over the rows in file order. */
class Walk {
  /** Kept rows and their times, never decreasing. */
  readonly rows: number[] = [];
  readonly times: number[] = [];
  private readonly events: Event[] = [];
  private readonly timed: number[] = [];
  private readonly step: number;
  private offset = 0;
  private backward = { count: 0, line: 0 };
  private ahead = { count: 0, line: 0 };

  constructor(private readonly input: AxisInput) {
    const { seconds } = input;
    for (let i = 0; i < seconds.length; i++) if (!Number.isNaN(seconds[i])) this.timed.push(i);
    this.step = typicalStep(seconds, this.timed);
  }

  run(): void {
    const { timed, input } = this;
    const { seconds } = input;
    for (let p = 0; p < timed.length; p++) {
      const row = timed[p]!;
      const last = this.times.length - 1;
      if (last >= 0) {
        const previous = this.times[last]!;
        let step = seconds[row]! + this.offset - previous;
        if (step < 0) {
          const stray = this.strayRows(p, previous);
          if (stray > 0) {
            this.note(this.backward, row, stray);
            p += stray - 1;
            continue;
          }
          if (!this.dropAhead(row)) this.continueAfter(row, previous);
          step = seconds[row]! + this.offset - this.times[this.times.length - 1]!;
        } else if (input.local && this.step < 60 && Math.abs(step - 3600) <= 3 * this.step + 1) {
          this.events.push({
            code: 'clock-change',
            message:
              'the local clock jumps ahead by one hour, as at a change to daylight saving time; it was left as a gap: export with a zone or UTC',
            row,
          });
        }
      }
      this.rows.push(row);
      this.times.push(seconds[row]! + this.offset);
    }
  }

  /** Number of rows from `p` on that run backward before the time goes on where it was; 0 = more than a stray. */
  private strayRows(p: number, previous: number): number {
    const { timed, input } = this;
    for (let k = 1; k <= STRAY_ROWS && p + k < timed.length; k++) {
      const on = input.seconds[timed[p + k]!]! + this.offset - previous;
      if (on >= 0 && on <= (k + 1) * 5 * this.step) return k;
    }
    return 0;
  }

  /** The kept rows before `row` ran ahead and the time comes back to where it was: they are the strays. */
  private dropAhead(row: number): boolean {
    const here = this.input.seconds[row]! + this.offset;
    for (let k = 1; k <= STRAY_ROWS; k++) {
      const at = this.times.length - 1 - k;
      if (at < 0) return false;
      const on = here - this.times[at]!;
      if (on < 0 || on > (k + 1) * 5 * this.step) continue;
      this.note(this.ahead, this.rows[at + 1]!, k);
      this.rows.length = at + 1;
      this.times.length = at + 1;
      return true;
    }
    return false;
  }

  /** The time starts again: midnight, overflow, clock change, or a second recording. */
  private continueAfter(row: number, previous: number): void {
    const { input } = this;
    const here = input.seconds[row]! + this.offset;
    const back = previous - here;
    if (input.period > 0 && back > input.period / 2 && back <= input.period) {
      this.offset += input.period;
      return;
    }
    if (input.local && this.step < 60 && Math.abs(here + 3600 - previous - this.step) <= 3 * this.step + 1) {
      this.offset += 3600;
      this.events.push({
        code: 'clock-change',
        message:
          'the local clock jumps back by one hour, as at the end of daylight saving time; the time was continued: export with a zone or UTC',
        row,
      });
      return;
    }
    const raw = previous - this.offset + input.origin;
    for (const bits of input.scale > 0 ? [8, 16, 32] : []) {
      const range = 2 ** bits * input.scale;
      const on = here + range - previous;
      if (raw < range && raw >= 0.9 * range && on >= 0 && on <= 10 * this.step) {
        this.offset += range;
        this.events.push({
          code: 'time-wrap',
          message: `the ${bits}-bit counter of the time overflows here and was continued`,
          row,
        });
        return;
      }
    }
    const gap = Math.max(RESTART_GAP, 20 * this.step);
    this.offset += back + gap;
    this.events.push({
      code: 'time-restart',
      message: `the time starts again, as when two recordings stand in one file; the rows were joined with a gap of ${Number(gap.toPrecision(3))} s, the true one is unknown: give the recordings as two files`,
      row,
    });
  }

  private note(tally: { count: number; line: number }, row: number, many: number): void {
    if (tally.count === 0) tally.line = this.input.lines.at(row);
    tally.count += many;
  }

  problems(time: Float64Array, rows: readonly number[]): Problem[] {
    const found: Problem[] = [];
    const column = this.input.column + 1;
    if (this.backward.count > 0) {
      const { count, line } = this.backward;
      found.push({
        code: 'time-backward',
        message: `${count} rows whose time runs backward were left out; expected a rising time`,
        line,
        column,
        count,
      });
    }
    if (this.ahead.count > 0) {
      const { count, line } = this.ahead;
      found.push({
        code: 'time-ahead',
        message: `${count} rows whose time runs ahead of the rows around them were left out; expected a rising time`,
        line,
        column,
        count,
      });
    }
    for (const event of this.events.slice(0, 50)) {
      const at = time[indexOf(rows, event.row)];
      found.push({
        code: event.code,
        message: event.message,
        line: this.input.lines.at(event.row),
        column,
        ...(at === undefined ? {} : { from: at, to: at }),
      });
    }
    if (this.events.length > 50) {
      const event = this.events[50]!;
      found.push({
        code: event.code,
        message: `${this.events.length - 50} further jumps of the time of this kind`,
        line: this.input.lines.at(event.row),
        column,
        count: this.events.length - 50,
      });
    }
    return found;
  }
}

/** Median of the steps ahead; 1 when there are none. */
function typicalStep(seconds: Float64Array, timed: readonly number[]): number {
  const steps: number[] = [];
  const stride = Math.max(1, Math.floor(timed.length / 100_000));
  for (let p = 1; p < timed.length; p += stride) {
    const step = seconds[timed[p]!]! - seconds[timed[p - 1]!]!;
    if (step > 0) steps.push(step);
  }
  return steps.length === 0 ? 1 : Float64Array.from(steps).sort()[steps.length >> 1]!;
}

/** Position of a row among the ascending kept rows; the next kept one when it was left out. */
function indexOf(rows: readonly number[], row: number): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle]! < row) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Rows without a time: evenly between their neighbours when they are few, else left out. */
function fillMissing(
  input: AxisInput,
  rows: readonly number[],
  times: readonly number[],
): { rows: readonly number[]; times: readonly number[]; problems: Problem[] } {
  const { seconds, lines, column } = input;
  let missing = 0;
  let firstMissing = -1;
  for (let i = 0; i < seconds.length; i++) {
    if (!Number.isNaN(seconds[i])) continue;
    missing++;
    if (firstMissing < 0) firstMissing = i;
  }
  if (missing === 0) return { rows, times, problems: [] };
  let filled = 0;
  const outRows: number[] = [];
  const outTimes: number[] = [];
  for (let p = 0; p < rows.length; p++) {
    const row = rows[p]!;
    const before = p === 0 ? -1 : rows[p - 1]!;
    const between = before < 0 ? 0 : row - before - 1;
    if (
      between > 0 &&
      between <= FILL_RUN &&
      missing <= FILL_SHARE * seconds.length &&
      allMissing(seconds, before, row)
    ) {
      const step = (times[p]! - times[p - 1]!) / (between + 1);
      for (let k = 1; k <= between; k++) {
        outRows.push(before + k);
        outTimes.push(times[p - 1]! + k * step);
        filled++;
      }
    }
    outRows.push(row);
    outTimes.push(times[p]!);
  }
  const problem: Problem = {
    code: 'time-missing',
    message: `${missing} rows have no time; ${filled} were placed evenly between their neighbours, ${missing - filled} were left out`,
    line: lines.at(firstMissing),
    ...(column >= 0 ? { column: column + 1 } : {}),
    count: missing,
  };
  return { rows: outRows, times: outTimes, problems: [problem] };
}

function allMissing(seconds: Float64Array, before: number, after: number): boolean {
  for (let i = before + 1; i < after; i++) if (!Number.isNaN(seconds[i])) return false;
  return true;
}
