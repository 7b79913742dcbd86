import type { Problem } from '../recording/problem.js';
import type { RowLines } from './row-lines.js';

export interface SpreadResult {
  readonly rows: readonly number[];
  /** Strictly increasing. */
  readonly times: readonly number[];
  readonly problems: readonly Problem[];
}

/** Repeated stamps are a coarse clock from this many, and this share of the steps, on; fewer are repeated rows. */
const COARSE = { rows: 3, share: 0.1 } as const;

/**
 * Rows that share a time stamp. A clock coarser than the rows (whole seconds at 2 rows a second) has its rows spread
 * evenly up to the next tick; a gap after them is left a gap. Single repeats are left out. Times must not decrease.
 */
export function spreadTicks(rows: readonly number[], times: readonly number[], lines: RowLines): SpreadResult {
  const starts: number[] = [];
  for (let i = 0; i < times.length; i++) if (i === 0 || times[i]! > times[i - 1]!) starts.push(i);
  const repeats = times.length - starts.length;
  if (repeats === 0) return { rows, times, problems: [] };
  const firstRepeat = firstRepeated(times);
  const line = lines.at(rows[firstRepeat]!);
  const coarse = repeats >= COARSE.rows && repeats >= COARSE.share * times.length && starts.length > 1;
  if (!coarse) {
    return {
      rows: starts.map((i) => rows[i]!),
      times: starts.map((i) => times[i]!),
      problems: [
        {
          code: 'time-repeated',
          message: `${repeats} rows repeat the time of the row before and were left out; expected a rising time`,
          line,
          count: repeats,
        },
      ],
    };
  }
  return spread(rows, times, starts, line, repeats);
}

function firstRepeated(times: readonly number[]): number {
  for (let i = 1; i < times.length; i++) if (times[i] === times[i - 1]) return i;
  return 0;
}

function spread(
  rows: readonly number[],
  times: readonly number[],
  starts: readonly number[],
  line: number,
  repeats: number,
): SpreadResult {
  const groups = starts.length;
  const ticks = new Float64Array(groups - 1);
  const spacings = new Float64Array(groups - 1);
  for (let g = 0; g < groups - 1; g++) {
    ticks[g] = times[starts[g + 1]!]! - times[starts[g]!]!;
    spacings[g] = ticks[g]! / (starts[g + 1]! - starts[g]!);
  }
  const tick = median(ticks);
  const spacing = median(spacings);
  const out: number[] = new Array(times.length);
  let shift = 0;
  let standing = 0;
  let standingAt = -1;
  for (let g = 0; g < groups; g++) {
    const from = starts[g]!;
    const to = g + 1 < groups ? starts[g + 1]! : times.length;
    const size = to - from;
    const start = times[from]!;
    const usual = size * spacing;
    let span = g + 1 < groups ? times[to]! - start : usual;
    // Rows end before a gap, they do not fill it.
    if (span > 3 * tick && span > 3 * usual) span = usual;
    // The clock stood still (run time with the engine off) while rows went on at their usual spacing.
    const stood = usual > span + 5 * tick ? usual - span : 0;
    for (let k = 0; k < size; k++) out[from + k] = start + shift + (k * (span + stood)) / size;
    if (stood > 0) {
      standing += size;
      if (standingAt < 0) standingAt = from;
      shift += stood;
    }
  }
  const problems: Problem[] = [
    {
      code: 'time-coarse',
      message: `${repeats} rows share the time stamp of the row before, because the clock ticks every ${short(tick)} s and the rows come about every ${short(spacing)} s; they were spread evenly inside each tick`,
      line,
      count: repeats,
    },
  ];
  if (standingAt >= 0) {
    problems.push({
      code: 'time-standing',
      message: `the clock stands still over ${standing} rows; they were placed at the usual spacing and later rows were moved by ${short(shift)} s`,
      from: out[standingAt]! - out[0]!,
      to: out[standingAt]! - out[0]! + shift,
      count: standing,
    });
  }
  return { rows, times: out, problems };
}

function short(value: number): number {
  return Number(value.toPrecision(3));
}

function median(values: Float64Array): number {
  return values.slice().sort()[values.length >> 1] ?? 0;
}
