import { median } from '../math/quantile.js';
import { lagOf } from './aligned.js';
import { TAKEN_UP } from './clutch-slip-ratios.js';
import { DRIVEN_SPEED } from './driven-speed.js';
import { FUEL_CUT } from './fuel-cut.js';
import { SHIFTS } from './gear-shifts.js';
import { LEARNED_RATIOS, type LearnedRatios } from './ratio-clusters.js';
import { type Drive, isRefusal } from './recipe.js';
import { samplesOf } from './samples.js';

export interface Side {
  /** Output side, row by row, lag against the input taken out. */
  readonly values: Float64Array;
  /** Standard uncertainty of the lag, s. */
  readonly lagU: number;
  /** Absolute rate of change at a row, per s. */
  readonly slope: (row: number) => number;
}

/** A channel and its values row by row. */
interface Speed {
  readonly id: string;
  readonly values: Float64Array;
}

/** @param gear row by row, NaN = none held */
export function sideOf(drive: Drive, input: Speed, output: Speed, gear: Float64Array): Side {
  const { time } = drive;
  const { values } = output;
  const samples = samplesOf(drive);
  const interval = 1 / Math.min(samples.hz(input.id), samples.hz(output.id));
  const reach = Math.max(1, Math.round(0.3 / samples.spacing));
  const rate = (i: number): number => {
    const a = Math.max(0, i - reach);
    const b = Math.min(values.length - 1, i + reach);
    const found = (values[b]! - values[a]!) / (time[b]! - time[a]!);
    return Number.isFinite(found) ? found : 0;
  };
  const lag = lagBetween(drive, input, output, gear);
  const lagU = lag === undefined ? 0.5 * interval : Math.max(lag.u, 0.03 * interval);
  const moved = lag === undefined || Math.abs(lag.seconds) < 0.002 ? values : shifted(time, values, lag.seconds);
  return { values: moved, lagU, slope: (i) => Math.abs(rate(i)) };
}

function shifted(time: Float64Array, values: Float64Array, seconds: number): Float64Array {
  const found = new Float64Array(values.length);
  for (let i = 0; i < found.length; i++) found[i] = later(time, values, i, seconds);
  return found;
}

/** Value at `seconds` after row i, linear between rows; NaN beyond the recording or over a gap. */
function later(time: Float64Array, values: Float64Array, i: number, seconds: number): number {
  const t = time[i]! + seconds;
  let k = i;
  if (seconds >= 0) while (k + 1 < time.length && time[k + 1]! <= t) k++;
  else while (k > 0 && time[k]! > t) k--;
  const a = time[k]!;
  if (t === a) return values[k]!;
  const b = time[k + 1];
  if (b === undefined || t < a || b - a > 2) return Number.NaN;
  return values[k]! + ((values[k + 1]! - values[k]!) * (t - a)) / (b - a);
}

/**
 * Overrun and learned ratios together where the ratios were learned from this pair, else what there is, else changes
 * that follow each other. Where the driven wheels were not measured, braking tyres look like a lag on overrun: there the
 * ratios lead, which know tyre slip apart.
 */
function lagBetween(drive: Drive, input: Speed, output: Speed, gear: Float64Array): Found | undefined {
  const learned = learnedLag(drive, input.id, output.id);
  if (learned !== undefined && !learned.geared) return learned;
  const overrun = overrunLag(drive, input.values, output.values, gear);
  if (overrun !== undefined && learned !== undefined) return together(overrun, learned);
  return overrun ?? learned ?? pairLag(drive, input.id, output.id);
}

/** Ratios that were learned from just this pair. */
export function learnedOf(drive: Drive, input: string, output: string): LearnedRatios | undefined {
  const learned = drive.derive(LEARNED_RATIOS);
  const speed = drive.derive(DRIVEN_SPEED);
  if (isRefusal(learned) || isRefusal(speed) || speed.channel !== output || learned.shaft !== input) return undefined;
  return learned;
}

/** Lag that those hold. */
function learnedLag(drive: Drive, input: string, output: string): (Found & { geared: boolean }) | undefined {
  const learned = learnedOf(drive, input, output);
  return learned && { seconds: learned.lag, u: learned.lagU, geared: learned.geared };
}

/** Mean by inverse variances; where both disagree by more than chance, the doubt grows by that (Birge ratio, PDG review 5.2). */
function together(a: Found, b: Found): Found {
  const [p, q] = [1 / a.u ** 2, 1 / b.u ** 2];
  const birge = Math.max(1, Math.abs(a.seconds - b.seconds) / Math.hypot(a.u, b.u));
  return { seconds: (p * a.seconds + q * b.seconds) / (p + q), u: birge / Math.sqrt(p + q) };
}

/** A lag (s) and its standard uncertainty. */
interface Found {
  readonly seconds: number;
  readonly u: number;
}

/** Farthest lag looked for and step of the search, s. */
const FARTHEST = 0.6;
const SEARCH = 0.04;
/** Seconds of a cut after which clutches that slip a little by design while the engine pulls have closed. Common practice, no source. */
const CLOSED = 0.5;
/** Residuals beyond this many robust standard deviations have no say: a shift that was not seen must not rule the fit. */
const OUTSIDE = 4.685;
/** Least scatter of ln(input / output), and of rows that share their error the one that counts. */
const LEAST = 0.0003;
const SHARED = 5;

/**
 * On overrun no clutch slips: the lag is the shift at which input / output scatters least within gears. The scatter is
 * Tukey's biweight loss (Mosteller & Tukey, Data Analysis and Regression, 1977, ch. 10) over a grid, with a parabola
 * through the lowest three; its uncertainty follows from the curvature, JCGM 100 5.1. Undefined without enough overrun,
 * or when the scatter hardly depends on the shift.
 */
function overrunLag(drive: Drive, n: Float64Array, out: Float64Array, gear: Float64Array): Found | undefined {
  const rows = overrunRows(drive, n, out, gear);
  if (rows.length < 40) return undefined;
  const steps = Math.round(FARTHEST / SEARCH);
  const tried = Array.from({ length: 2 * steps + 1 }, (_, s) =>
    residuals(drive.time, n, out, gear, rows, (s - steps) * SEARCH),
  );
  const scale = 1.4826 * tried.reduce((least, found) => Math.min(least, median(found.map(Math.abs))), Number.MAX_VALUE);
  const reach = OUTSIDE * Math.max(LEAST, scale);
  const loss = tried.map((found) => biweightLoss(found, reach));
  let best = 0;
  for (let k = 1; k < loss.length; k++) if (loss[k]! < loss[best]!) best = k;
  const left = loss[best - 1];
  const right = loss[best + 1];
  if (left === undefined || right === undefined) return undefined;
  const curve = (left - 2 * loss[best]! + right) / SEARCH ** 2;
  if (!(curve > 0)) return undefined;
  const u = Math.sqrt((2 * SHARED * loss[best]!) / tried[best]!.length / curve);
  return u < 0.06 ? { seconds: (best - steps) * SEARCH + (0.5 * (left - right)) / (curve * SEARCH), u } : undefined;
}

/** Rows on overrun in a gear, half a second into each cut; two thousand tell as much as all of them. */
function overrunRows(drive: Drive, n: Float64Array, out: Float64Array, gear: Float64Array): number[] {
  const cut = drive.derive(FUEL_CUT);
  if (isRefusal(cut)) return [];
  const rows: number[] = [];
  let since = Number.NaN;
  for (let i = 0; i < n.length; i++) {
    if (cut.mask[i] !== 1) since = Number.NaN;
    else if (Number.isNaN(since)) since = drive.time[i]!;
    const closed = drive.time[i]! - since >= CLOSED;
    if (closed && !Number.isNaN(gear[i]!) && out[i]! > 0 && n[i]! >= TAKEN_UP) rows.push(i);
  }
  const stride = Math.max(1, Math.floor(rows.length / 2000));
  return rows.filter((_, k) => k % stride === 0);
}

/** ln(input / output later by a lag) less its median in the gear; what cannot be told is left out. */
function residuals(
  time: Float64Array,
  n: Float64Array,
  out: Float64Array,
  gear: Float64Array,
  rows: readonly number[],
  lag: number,
): Float64Array {
  const byGear = new Map<number, number[]>();
  for (const i of rows) {
    const x = Math.log(n[i]! / later(time, out, i, lag));
    if (!Number.isFinite(x)) continue;
    const list = byGear.get(gear[i]!);
    if (list === undefined) byGear.set(gear[i]!, [x]);
    else list.push(x);
  }
  const found: number[] = [];
  for (const list of byGear.values()) {
    const middle = median(list);
    for (const x of list) found.push(x - middle);
  }
  return Float64Array.from(found);
}

function biweightLoss(residual: Float64Array, reach: number): number {
  let total = 0;
  for (const x of residual) {
    const z2 = (x / reach) ** 2;
    total += z2 >= 1 ? 1 : 1 - (1 - z2) ** 3;
  }
  // In units of squares near 0: rho = z^2 - ...
  return (total * reach * reach) / 3;
}

function pairLag(drive: Drive, input: string, id: string): Found | undefined {
  const shifts = drive.derive(SHIFTS);
  const lag = lagOf(drive, input, id, isRefusal(shifts) ? [] : shifts);
  return isRefusal(lag) || Math.abs(lag.seconds) > 0.6 ? undefined : { seconds: lag.seconds, u: lag.uncertainty };
}
