import { median } from '../math/quantile.js';
import { lagOf } from './aligned.js';
import { TAKEN_UP } from './clutch-slip-ratios.js';
import { FUEL_CUT } from './fuel-cut.js';
import { SHIFTS } from './gear-shifts.js';
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

export function sideOf(drive: Drive, input: string, values: Float64Array, id: string, gear: Float64Array): Side {
  const { time } = drive;
  const samples = samplesOf(drive);
  const interval = 1 / Math.min(samples.hz(input), samples.hz(id));
  const reach = Math.max(1, Math.round(0.3 / samples.spacing));
  const rate = (i: number): number => {
    const a = Math.max(0, i - reach);
    const b = Math.min(values.length - 1, i + reach);
    const found = (values[b]! - values[a]!) / (time[b]! - time[a]!);
    return Number.isFinite(found) ? found : 0;
  };
  const lag = overrunLag(drive, samples.held(input)!, values, gear) ?? pairLag(drive, input, id);
  const lagU = lag === undefined ? 0.5 * interval : Math.max(lag.u, 0.03 * interval);
  const moved =
    lag === undefined || Math.abs(lag.seconds) < 0.002
      ? values
      : values.map((_x, i) => later(time, values, i, lag.seconds));
  return { values: moved, lagU, slope: (i) => Math.abs(rate(i)) };
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

/** Farthest lag looked for and step of the search, s. */
const FARTHEST = 0.6;
const SEARCH = 0.04;

/**
 * On overrun no clutch slips: the lag is the shift at which input / output scatters least within gears (least squares
 * over a grid, parabola through the lowest three). Its uncertainty follows from the curvature, JCGM 100 5.1. Undefined
 * without enough overrun, or when the scatter hardly depends on the shift.
 */
function overrunLag(
  drive: Drive,
  n: Float64Array,
  out: Float64Array,
  gear: Float64Array,
): { seconds: number; u: number } | undefined {
  const cut = drive.derive(FUEL_CUT);
  if (isRefusal(cut)) return undefined;
  const rows: number[] = [];
  for (let i = 0; i < n.length; i++)
    if (cut.mask[i] === 1 && !Number.isNaN(gear[i]!) && out[i]! > 0 && n[i]! >= TAKEN_UP) rows.push(i);
  if (rows.length < 40) return undefined;
  // Two thousand rows tell as much as all of them.
  const stride = Math.max(1, Math.floor(rows.length / 2000));
  const steps = Math.round(FARTHEST / SEARCH);
  const scatter = new Float64Array(2 * steps + 1);
  let count = 0;
  for (let s = -steps; s <= steps; s++) {
    const byGear = new Map<number, number[]>();
    for (let k = 0; k < rows.length; k += stride) {
      const i = rows[k]!;
      const x = Math.log(n[i]! / later(drive.time, out, i, s * SEARCH));
      const list = byGear.get(gear[i]!);
      if (list === undefined) byGear.set(gear[i]!, [x]);
      else list.push(x);
    }
    let total = 0;
    count = 0;
    for (const list of byGear.values()) {
      const middle = median(list);
      for (const x of list) {
        // Bounded: a shift that was not seen must not rule the fit.
        if (!Number.isFinite(x)) continue;
        total += Math.min(Math.abs(x - middle), 0.06) ** 2;
        count++;
      }
    }
    scatter[s + steps] = total;
  }
  let best = 0;
  for (let k = 1; k < scatter.length; k++) if (scatter[k]! < scatter[best]!) best = k;
  const left = scatter[best - 1];
  const right = scatter[best + 1];
  if (left === undefined || right === undefined) return undefined;
  const curve = (left - 2 * scatter[best]! + right) / SEARCH ** 2;
  if (!(curve > 0)) return undefined;
  // Neighbouring rows share their error: one in five counts.
  const u = Math.sqrt((2 * 5 * scatter[best]!) / count / curve);
  return u < 0.06 ? { seconds: (best - steps) * SEARCH + (0.5 * (left - right)) / (curve * SEARCH), u } : undefined;
}

function pairLag(drive: Drive, input: string, id: string): { seconds: number; u: number } | undefined {
  const shifts = drive.derive(SHIFTS);
  const lag = lagOf(drive, input, id, isRefusal(shifts) ? [] : shifts);
  return isRefusal(lag) || Math.abs(lag.seconds) > 0.6 ? undefined : { seconds: lag.seconds, u: lag.uncertainty };
}
