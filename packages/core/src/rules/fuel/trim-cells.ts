import { exceeds } from '../../derived/exceeds.js';
import type { Segment } from '../../derived/intervals.js';
import { effectiveSampleSize } from '../../math/effective-sample-size.js';
import { evenly } from '../../math/evenly.js';
import { gathered } from '../../math/gather.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';

export const REGIMES = ['idle', 'cruise', 'load'] as const;
export type Regime = (typeof REGIMES)[number];

/** A median is taken over at least this long, and compared between banks over at least that long (s). */
export const LONG_ENOUGH = 30;
export const LONG_ENOUGH_TO_COMPARE = 60;

/** Total trim of one bank in one regime of one drive, %. */
export interface Cell {
  readonly regime: Regime;
  readonly bank: string;
  /** Median of the total trim, %. */
  readonly value: number;
  /** Standard uncertainty of the median, percentage points. */
  readonly uncertainty: number;
  readonly seconds: number;
  /** Independent samples that it is worth. */
  readonly samples: number;
  readonly from: number;
  readonly to: number;
  /** The trim sits at the end of its travel. */
  readonly pinned: boolean;
  /** Lambda minus target, median; NaN when not recorded. */
  readonly lambdaError: number;
  /** Rich at first and less so later: points that went; NaN when not so. */
  readonly faded: number;
  /** Taken while the engine oil was below 80 degC throughout. */
  readonly coldOil: boolean;
}

/** Everything a cell is measured from, row by row. */
export interface Signals {
  readonly time: Float64Array;
  /** Total trim, %; NaN where not valid. */
  readonly total: Float64Array;
  /** Short-term trim, %, which runs into its end first; absent when not recorded. */
  readonly short?: Float64Array;
  /** Lambda minus target; absent when not recorded. */
  readonly lambdaError?: Float64Array;
  /** 1 where the engine oil is hot; absent when not known. */
  readonly hotOil?: Uint8Array;
  /** Step of the total trim, percentage points. */
  readonly quantum: number;
  /** Fresh values per second. */
  readonly hz: number;
  /** Longest time (s) that one row stands for. */
  readonly maxStep: number;
}

/** Rich trim that fades by this many points while the engine warms is fuel out of the oil, not a fault of the mixture. */
const FADE = 5;

/** Median of one regime, or undefined when the regime was not driven at all. */
export function cellOf(regime: Regime, bank: string, segments: readonly Segment[], signals: Signals): Cell | undefined {
  const rows = validRows(segments, signals.total);
  if (rows.length === 0) return undefined;
  const { hotOil } = signals;
  const hot = hotOil === undefined ? rows : rowsWhere(rows, hotOil, 1);
  const all = measured(regime, bank, rows, signals);
  if (regime !== 'idle' || all.value >= 0) return all;
  if (hotOil !== undefined) {
    const late = measured(regime, bank, hot, signals);
    if (late.seconds < LONG_ENOUGH) return { ...all, coldOil: hot.length === 0 };
    const early = measured(regime, bank, rowsWhere(rows, hotOil, 0), signals);
    return { ...late, faded: early.seconds >= LONG_ENOUGH ? fadeOf(early, late) : Number.NaN };
  }
  const half = secondsOf(rows, signals) / 2;
  let seconds = 0;
  let cut = 0;
  while (cut < rows.length && seconds < half) seconds += rowSeconds(rows[cut++]!, signals);
  const early = measured(regime, bank, rows.slice(0, cut), signals);
  const late = measured(regime, bank, rows.slice(cut), signals);
  const faded = Math.min(early.seconds, late.seconds) >= LONG_ENOUGH ? fadeOf(early, late) : Number.NaN;
  return Number.isNaN(faded) ? all : { ...late, faded };
}

function fadeOf(early: Cell, late: Cell): number {
  const went = late.value - early.value;
  const u = Math.hypot(early.uncertainty, late.uncertainty);
  return exceeds(went, u, FADE, '>=') === 'beyond' ? went : Number.NaN;
}

function validRows(segments: readonly Segment[], total: Float64Array): Int32Array {
  let most = 0;
  for (const { start, end } of segments) most += end - start + 1;
  const rows = new Int32Array(most);
  let count = 0;
  for (const { start, end } of segments)
    for (let i = start; i <= end; i++) if (!Number.isNaN(total[i]!)) rows[count++] = i;
  return rows.subarray(0, count);
}

function rowsWhere(rows: Int32Array, mask: Uint8Array, wanted: 0 | 1): Int32Array {
  const kept = new Int32Array(rows.length);
  let count = 0;
  for (let i = 0; i < rows.length; i++) if (mask[rows[i]!] === wanted) kept[count++] = rows[i]!;
  return kept.subarray(0, count);
}

function rowSeconds(row: number, { time, maxStep }: Signals): number {
  return row + 1 < time.length ? Math.min(maxStep, time[row + 1]! - time[row]!) : 0;
}

function secondsOf(rows: Int32Array, signals: Signals): number {
  let seconds = 0;
  for (let i = 0; i < rows.length; i++) seconds += rowSeconds(rows[i]!, signals);
  return seconds;
}

/** A distribution-free spread of a median over n values is 1.2533 sigma / sqrt(n) (normal data; Kendall & Stuart, 10.10). */
const MEDIAN_ERROR = 1.2533;

/** A mixture controller has swung through its cycle within this time (s). Common practice, no source. */
const HUNTING = 10;

/** Rows that tell a median and its spread as well as all of them. */
const ENOUGH = 10_000;

function measured(regime: Regime, bank: string, rows: Int32Array, signals: Signals): Cell {
  const { total, time, quantum } = signals;
  const some = evenly(rows, ENOUGH);
  const values = gathered(total, some);
  const seconds = secondsOf(rows, signals);
  const fresh = Math.max(1, Math.min(rows.length, seconds * signals.hz));
  // Held rows repeat one measurement; neighbours in time are alike besides. What is alike for longer than the controller
  // hunts is the long-term trim learning: part of what is measured, no scatter of it.
  const samples = Math.max(1, Math.min(fresh, Math.max(effectiveSampleSize(values), seconds / HUNTING)));
  const spread = (MEDIAN_ERROR * madn(values)) / Math.sqrt(samples);
  return {
    regime,
    bank,
    value: median(values),
    uncertainty: Math.hypot(spread, quantum / Math.sqrt(12)),
    seconds,
    samples,
    from: rows.length > 0 ? time[rows[0]!]! : Number.NaN,
    to: rows.length > 0 ? time[rows[rows.length - 1]!]! : Number.NaN,
    pinned: signals.short !== undefined && isPinned(signals.short, rows),
    lambdaError: signals.lambdaError === undefined ? Number.NaN : median(gathered(signals.lambdaError, some)),
    faded: Number.NaN,
    coldOil: false,
  };
}

/** A controller at work hunts; one that reads its own highest value most of the time has nothing left to give. Common practice, no source. */
const PINNED = { from: 15, share: 0.6, step: 0.05 };

function isPinned(part: Float64Array, rows: Int32Array): boolean {
  let top = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < part.length; i++) if (part[i]! > top) top = part[i]!;
  if (!(top >= PINNED.from) || rows.length === 0) return false;
  let held = 0;
  for (let i = 0; i < rows.length; i++) if (part[rows[i]!]! >= top - PINNED.step) held++;
  return held >= PINNED.share * rows.length;
}

/** One cell of the car: the drives' medians weighted by their seconds, their disagreement in the uncertainty. */
export function merged(cells: readonly Cell[]): Cell {
  if (cells.length === 1) return cells[0]!;
  let seconds = 0;
  let value = 0;
  let lambda = 0;
  let variance = 0;
  for (const cell of cells) {
    seconds += cell.seconds;
    value += cell.seconds * cell.value;
    lambda += cell.seconds * cell.lambdaError;
  }
  value /= seconds;
  for (const cell of cells) {
    variance += (cell.seconds / seconds) ** 2 * (cell.uncertainty ** 2 + (cell.value - value) ** 2);
  }
  const first = cells[0]!;
  return {
    ...first,
    value,
    seconds,
    uncertainty: Math.sqrt(variance),
    samples: cells.reduce((total, cell) => total + cell.samples, 0),
    pinned: cells.some((cell) => cell.pinned),
    lambdaError: lambda / seconds,
    faded: cells.find((cell) => !Number.isNaN(cell.faded))?.faded ?? Number.NaN,
    coldOil: cells.every((cell) => cell.coldOil),
  };
}
