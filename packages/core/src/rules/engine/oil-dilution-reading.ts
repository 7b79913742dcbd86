import { uncertaintyOf } from '../../derived/exceeds.js';
import type { Segment } from '../../derived/intervals.js';
import { OIL_ESTIMATE } from '../../derived/oil-estimate.js';
import { OIL_PRESSURE } from '../../derived/oil-pressure.js';
import { type OwnCells, ownCells, ownSamplesOf } from '../../derived/oil-pressure-own.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { CRUISE, IDLE } from '../../derived/segments.js';
import { type BankTrim, TOTAL_TRIM } from '../../derived/total-trim.js';
import { effectiveSampleSize } from '../../math/effective-sample-size.js';
import { evenly } from '../../math/evenly.js';
import { gathered } from '../../math/gather.js';
import { madn } from '../../math/madn.js';
import { median, quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** Oil (degC) in which fuel boils off while it warms, and from which most is gone. The limit of 80 is the rule's. */
const WARMING = { from: 35, to: 75 } as const;
const HOT = 80;
/** Where enough idle was hotter still, that counts: there nothing boils any more. */
const HOTTER = 90;
/** Seconds of idle on either side; seconds after the pedal is let go, and after a start, until the trim has settled. */
export const IDLE_SECONDS = 30;
const SETTLE = 4;
const AFTER_START = 45;
/** A mixture controller has swung through its cycle within this time (s). Common practice, no source. */
const HUNTING = 10;
/** A distribution-free spread of a median is 1.2533 sigma / sqrt(n) for normal data (Kendall & Stuart, 10.10). */
const MEDIAN_ERROR = 1.2533;
/** Sensors and air meters drift with warmth by this much of the mixture, points, standard uncertainty. Common practice, no source. */
const DRIFT = 0.7;

export interface Fading {
  readonly bank: string;
  /** %, median of idle while the oil warmed, and once it was hot. */
  readonly early: number;
  readonly late: number;
  /** Points by which the rich trim went, and its standard uncertainty. */
  readonly fade: number;
  readonly u: number;
  /** Most of the early idle was rich against the late one, not a part of it. */
  readonly steady: boolean;
  /** Points that cruising changed by over the same oil; NaN when not driven. */
  readonly cruise: number;
  readonly from: number;
  readonly to: number;
  readonly samples: number;
}

export interface DilutionReading {
  readonly banks: readonly Fading[];
  /** Idle with warming and with hot oil, s. */
  readonly early: number;
  readonly late: number;
  readonly purgeKnown: boolean;
  readonly closedLoopCertain: boolean;
  /** mm, median with hot oil at rest or idle; NaN when not recorded. */
  readonly level: number;
  readonly levelU: number;
  readonly own: OwnCells;
  readonly channels: readonly Channel[];
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly optional: (id: 'engineOilLevel' | 'engineOilTemperature') => Channel | undefined;
};

/** Idle trims while the oil warms against those with hot oil, and what level and pressure say. */
export function readDilution(view: Reads): DilutionReading | Refusal {
  const trims = view.derive(TOTAL_TRIM);
  if (isRefusal(trims)) return trims;
  const samples = view.derive(SAMPLES);
  const seconds = view.derive(ROW_SECONDS);
  const idle = view.derive(IDLE);
  if (isRefusal(samples)) return samples;
  if (isRefusal(seconds)) return seconds;
  if (isRefusal(idle)) return refuse(idle.reason, idle.missing);
  const oil = view.derive(OIL_ESTIMATE);
  if (isRefusal(oil) || !oil.measured)
    return refuse('the oil temperature is not recorded: whether fuel boils off it cannot be told', {
      channels: ['engineOilTemperature'],
    });
  const cruise = view.derive(CRUISE);
  const started = startedAt(samples.held('engineSpeed'), view.time);
  const ready = (row: number, segment: Segment) =>
    view.time[row]! >= segment.from + SETTLE && view.time[row]! >= started + AFTER_START;
  const idleRows = rowsOf(idle, oil.values, ready);
  const cruiseRows = isRefusal(cruise) ? undefined : rowsOf(cruise, oil.values, ready);
  const banks = trims.banks.flatMap((bank) => fadingOf(bank, idleRows, cruiseRows, seconds, view.time));
  const level = view.optional('engineOilLevel');
  const levels = level === undefined || level.quality.constant ? [] : gathered(level.values, idleRows.hot);
  const first = trims.banks[0]!;
  return {
    banks,
    early: secondsOf(idleRows.warming, first.total, seconds),
    late: secondsOf(idleRows.hot, first.total, seconds),
    purgeKnown: trims.purgeKnown,
    closedLoopCertain: trims.closedLoopCertain,
    level: median(levels),
    levelU: level === undefined ? Number.NaN : uncertaintyOf(level, { noise: madn(levels), fresh: 4 }),
    own: ownOf(view),
    channels: trims.banks.flatMap(({ long, short }) => (short === undefined ? [long] : [long, short])),
  };
}

/** Seconds at which the engine first turned, when the recording holds the start; else before all. */
function startedAt(speed: Float64Array | undefined, time: Float64Array): number {
  if (speed === undefined || speed[0]! >= 300) return Number.NEGATIVE_INFINITY;
  const row = speed.findIndex((x) => x >= 300);
  return row < 0 ? Number.POSITIVE_INFINITY : time[row]!;
}

interface Rows {
  readonly warming: Int32Array;
  readonly hot: Int32Array;
  readonly hotter: Int32Array;
}

function rowsOf(
  segments: readonly Segment[],
  oil: Float64Array,
  ready: (row: number, segment: Segment) => boolean,
): Rows {
  let most = 0;
  for (const { start, end } of segments) most += end - start + 1;
  const [warming, hot, hotter] = [new Int32Array(most), new Int32Array(most), new Int32Array(most)];
  let [a, b, c] = [0, 0, 0];
  for (const segment of segments)
    for (let i = segment.start; i <= segment.end; i++) {
      const x = oil[i]!;
      if (!(x >= WARMING.from) || !ready(i, segment)) continue;
      if (x <= WARMING.to) warming[a++] = i;
      else if (x >= HOT) hot[b++] = i;
      if (x >= HOTTER) hotter[c++] = i;
    }
  return { warming: warming.subarray(0, a), hot: hot.subarray(0, b), hotter: hotter.subarray(0, c) };
}

function secondsOf(rows: Int32Array, total: Float64Array, seconds: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < rows.length; k++) if (!Number.isNaN(total[rows[k]!]!)) sum += seconds[rows[k]!]!;
  return sum;
}

interface Part {
  readonly values: Float64Array;
  readonly value: number;
  readonly u: number;
  readonly samples: number;
  readonly from: number;
  readonly to: number;
}

/** Rows that tell a median and its spread as well as all of them. */
const ENOUGH = 10_000;

/** Median of the total over rows; undefined below thirty seconds. */
function partOf(bank: BankTrim, rows: Int32Array, seconds: Float64Array, time: Float64Array): Part | undefined {
  const length = secondsOf(rows, bank.total, seconds);
  if (length < IDLE_SECONDS) return undefined;
  const used = evenly(
    rows.filter((i) => !Number.isNaN(bank.total[i]!)),
    ENOUGH,
  );
  const values = gathered(bank.total, used);
  const fresh = Math.max(1, Math.min(rows.length, length * bank.hz));
  if (fresh < 10) return undefined;
  const samples = Math.max(1, Math.min(fresh, Math.max(effectiveSampleSize(values), length / HUNTING)));
  return {
    values,
    value: median(values),
    u: Math.hypot((MEDIAN_ERROR * madn(values)) / Math.sqrt(samples), bank.quantum / Math.sqrt(12)),
    samples,
    from: time[used[0]!]!,
    to: time[used[used.length - 1]!]!,
  };
}

function fadingOf(
  bank: BankTrim,
  idle: Rows,
  cruise: Rows | undefined,
  seconds: Float64Array,
  time: Float64Array,
): Fading[] {
  const early = partOf(bank, idle.warming, seconds, time);
  const late = partOf(bank, idle.hotter, seconds, time) ?? partOf(bank, idle.hot, seconds, time);
  if (early === undefined || late === undefined) return [];
  const fade = late.value - early.value;
  const before = cruise === undefined ? undefined : partOf(bank, cruise.warming, seconds, time);
  const after = cruise === undefined ? undefined : partOf(bank, cruise.hot, seconds, time);
  return [
    {
      bank: bank.name,
      early: early.value,
      late: late.value,
      fade,
      u: Math.hypot(early.u, late.u, DRIFT),
      // A valve that opened for a part of the time leaves the other part as it is.
      steady: late.value - quantile(early.values, 0.75) >= fade / 3,
      cruise: before === undefined || after === undefined ? Number.NaN : after.value - before.value,
      from: early.from,
      to: early.to,
      samples: Math.min(early.samples, late.samples),
    },
  ];
}

/** The car's own hot oil pressure, to be set beside that of earlier drives; empty without a sensor. */
function ownOf(view: Reads): OwnCells {
  const oil = view.derive(OIL_PRESSURE);
  if (isRefusal(oil)) return new Map();
  const warmth = view.optional('engineOilTemperature');
  return ownCells(ownSamplesOf(view.time, oil.fresh, oil.rpm, oil.pressure, oil.hot, warmth), oil.hz);
}
