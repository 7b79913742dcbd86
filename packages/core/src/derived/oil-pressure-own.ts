import { gathered } from '../math/gather.js';
import { median, quantile } from '../math/quantile.js';
import { windowMinimum } from '../math/window-minimum.js';
import type { Channel } from '../recording/recording.js';
import { firstAtOrAfter } from './intervals.js';
import { heldValues } from './refresh.js';

/** Pressure of hot oil in one cell of engine speed and oil temperature. */
export interface OwnCell {
  /** bar: 10th, 50th and 90th percentile. */
  readonly low: number;
  readonly middle: number;
  readonly high: number;
  readonly seconds: number;
  readonly samples: number;
  /** Holds idle speed. */
  readonly idle: boolean;
}

/** The car's own p(speed, temperature), by cell. */
export type OwnCells = ReadonlyMap<number, OwnCell>;

/** One fresh pressure of hot oil at steady engine speed. */
export interface OwnSamples {
  readonly time: Float64Array;
  readonly rpm: Float64Array;
  /** degC; NaN when the oil temperature is not recorded. */
  readonly oil: Float64Array;
  readonly pressure: Float64Array;
}

/** Width of a cell: coarse enough to be met again, fine enough that pressure moves little within. Our own choice. */
const RPM_STEP = 500;
const OIL_STEP = 10;
/** Cells below this speed hold idle: there no stage of a pump acts, it gives all it can. */
const IDLE_BELOW = 1250;
/** A cell counts from this many seconds and samples. */
const CELL_SECONDS = 5;
const CELL_SAMPLES = 5;

/** Cells of the samples from index `from` to before `to`, of at least `least` seconds each; empty gives none. */
export function ownCells(
  samples: OwnSamples,
  hz: number,
  from = 0,
  to = samples.time.length,
  least = CELL_SECONDS,
): OwnCells {
  const lists = new Map<number, number[]>();
  for (let i = from; i < to; i++) {
    const rpm = samples.rpm[i]!;
    const oil = samples.oil[i]!;
    const band = Number.isNaN(oil) ? 0 : Math.floor(oil / OIL_STEP);
    const key = Math.floor((rpm + RPM_STEP / 2) / RPM_STEP) * 100 + band;
    const list = lists.get(key);
    if (list) list.push(samples.pressure[i]!);
    else lists.set(key, [samples.pressure[i]!]);
  }
  const cells = new Map<number, OwnCell>();
  for (const [key, list] of lists) {
    const seconds = list.length / hz;
    if (list.length < CELL_SAMPLES || seconds < least) continue;
    cells.set(key, {
      low: quantile(list, 0.1),
      middle: median(list),
      high: quantile(list, 0.9),
      seconds,
      samples: list.length,
      idle: Math.floor(key / 100) * RPM_STEP < IDLE_BELOW,
    });
  }
  return cells;
}

export interface OwnLoss {
  /** Share (%) of the earlier pressure that is gone, median over the cells. */
  readonly loss: number;
  /** Standard uncertainty, %. */
  readonly uncertainty: number;
  readonly cells: number;
  readonly samples: number;
}

/**
 * Earlier against later pressure in the same cells. Undefined unless at least two cells, one of them at idle, are met
 * in both and none of their middle halves overlaps: a two-stage pump goes back and forth between its stages, and at
 * idle it has none, so neither looks like a loss.
 */
export function ownLoss(earlier: OwnCells, later: OwnCells): OwnLoss | undefined {
  const losses: number[] = [];
  let samples = 0;
  let idle = false;
  for (const [key, before] of earlier) {
    const after = later.get(key);
    if (after === undefined || !(before.middle > 0)) continue;
    const gone = 100 * (1 - after.middle / before.middle);
    // Below the relief valve only: at the valve both pressures stand on it.
    if (!(after.high < before.low)) {
      if (before.idle) return undefined;
      continue;
    }
    losses.push(gone);
    samples += Math.min(before.samples, after.samples);
    if (before.idle) idle = true;
  }
  if (losses.length < 2 || !idle) return undefined;
  const loss = median(losses);
  let squares = 0;
  for (const each of losses) squares += (each - loss) ** 2;
  // Cells differ by their place inside the cell; two points are the least that 500 rpm and 10 K leave open.
  const spread = Math.sqrt(squares / (losses.length - 1) / losses.length);
  return { loss, uncertainty: Math.max(2, spread), cells: losses.length, samples };
}

/** The largest loss within one drive: its hot time is cut at a third, a half and two thirds. */
export function lossWithin(samples: OwnSamples, hz: number): (OwnLoss & { readonly at: number }) | undefined {
  const n = samples.time.length;
  if (n < 4 * CELL_SAMPLES) return undefined;
  let worst: (OwnLoss & { readonly at: number }) | undefined;
  const begin = samples.time[0]!;
  const span = samples.time[n - 1]! - begin;
  for (const share of [1 / 3, 1 / 2, 2 / 3]) {
    const cut = firstAtOrAfter(samples.time, begin + share * span);
    const found = ownLoss(ownCells(samples, hz, 0, cut), ownCells(samples, hz, cut, n));
    if (found && found.loss > (worst?.loss ?? 0)) worst = { ...found, at: samples.time[cut]! };
  }
  return worst;
}

/** Engine speed may move this much (rpm) within half a second around for a pressure to belong to it. */
const STEADY = 250;

/**
 * Fresh pressures of hot oil at steady engine speed, `steady` rpm at most within half a second around. They stand at the
 * slowest speed of that time, or at the fastest: so told, a moving engine has at least that pressure there.
 */
export function ownSamplesOf(
  time: Float64Array,
  fresh: Int32Array,
  rpm: Float64Array,
  pressure: Float64Array,
  hot: Uint8Array,
  oil: Channel | undefined,
  steady = STEADY,
  at: 'slowest' | 'fastest' = 'slowest',
): OwnSamples {
  const slowest = windowMinimum(rpm, time, 0.5);
  const fastest = windowMinimum(
    rpm.map((n) => -n),
    time,
    0.5,
  );
  const held = oil === undefined ? undefined : heldValues(oil.values, time);
  const rows = fresh.filter((i) => {
    const low = slowest[i]!;
    return (
      hot[i] === 1 && low >= 500 && -fastest[i]! - low <= steady && !(held !== undefined && Number.isNaN(held[i]!))
    );
  });
  return {
    time: gathered(time, rows),
    rpm: at === 'slowest' ? gathered(slowest, rows) : gathered(fastest, rows).map((n) => -n),
    oil: held === undefined ? new Float64Array(rows.length).fill(Number.NaN) : gathered(held, rows),
    pressure: gathered(pressure, rows),
  };
}

/** The car's own pressure (bar) and the middle of the engine speeds (rpm) that it is taken from; NaN when there is none. */
export interface OwnPressure {
  readonly pressure: number;
  readonly rpm: number;
}

/**
 * NaN temperature meets cells of any. Lowest usual pressure (10th percentile) at that engine speed and oil
 * temperature: of its cell, else of the lowest of all temperatures there, else at the next lower speed down to `from`
 * (rpm), where a pump makes less; NaN when there is none.
 */
export function ownLowest(cells: OwnCells, rpm: number, oil: number, from: number): OwnPressure {
  const band = Number.isNaN(oil) ? Number.NaN : Math.floor(oil / OIL_STEP);
  for (let n = Math.floor((rpm + RPM_STEP / 2) / RPM_STEP); n * RPM_STEP >= from; n--) {
    const same = cells.get(n * 100 + band);
    if (same !== undefined) return { pressure: same.low, rpm: n * RPM_STEP };
    let lowest = Number.NaN;
    for (const [key, { low }] of cells) if (Math.floor(key / 100) === n && !(low >= lowest)) lowest = low;
    if (!Number.isNaN(lowest)) return { pressure: lowest, rpm: n * RPM_STEP };
  }
  return { pressure: Number.NaN, rpm: Number.NaN };
}
