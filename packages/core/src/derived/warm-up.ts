import { effectiveSampleSize } from '../math/effective-sample-size.js';
import { leastSquares } from '../math/least-squares.js';
import { AMBIENT } from './ambient.js';
import { MEASURED_AIR } from './measured-air.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
import { freshRate } from './refresh.js';
import { samplesOf } from './samples.js';
import { type FluidSeries, fluidSeries } from './temperature-series.js';
import { runningOrAll } from './warm.js';

/** How one fluid warmed up in one drive. */
export interface WarmUp {
  readonly channel: string;
  /** Seconds of the recording that were fitted, and degC at both ends by the fit. */
  readonly from: number;
  readonly to: number;
  readonly first: number;
  readonly last: number;
  /**
   * Seconds: of the coolant, in which it would lose all but 1/e of its warmth to the air outside; of oil and transmission
   * fluid, in which they follow the coolant. Infinity where the recording cannot tell it from no exchange at all.
   */
  readonly tau: number;
  /** 1/s: 1 / tau and its standard uncertainty; what is compared between drives, as its error is normal. */
  readonly rate: number;
  readonly rateU: number;
  /**
   * Own heat, and its standard uncertainty: of coolant and transmission fluid K per gram of air that the engine breathes,
   * of the oil K per bar of friction and 1000 revolutions.
   */
  readonly heat: number;
  readonly heatU: number;
  /** K, standard deviation of what the model leaves. */
  readonly residual: number;
  /** degC at seconds after `from`, for a coolant (or air) as it was in this drive; NaN outside. */
  readonly at: (t: number) => number;
}

export interface WarmUps {
  readonly coolant: WarmUp | Refusal;
  readonly oil: WarmUp | Refusal;
  readonly transmission: WarmUp | Refusal;
}

/** degC below which a fluid starts cold, and up to which its warm-up is fitted: beyond, thermostat and valves open. */
const COLD = 45;
const UP_TO = { coolant: 78, oil: 200, transmission: 76 } as const;
/** K that it has to rise, s that it has to take, samples. */
const RISES = 20;
const LASTS = 120;
const SAMPLES = 20;
/** s: after this long even a sump in the wind has settled. */
const LONGEST = 1200;
/** Seconds of one point of the fit: nothing here moves faster. */
const GRID = 2;
/** K: sensors sit in other places than what they stand for. Common practice, no source. */
const PLACE = 0.3;
/**
 * Exchange grows with the flow, and cold oil rubs more: a balance with one constant is off by so much, share, standard
 * uncertainty. By the fits on simulated cars whose exchange follows speed, and common practice.
 */
const ONE_CONSTANT = { coolant: 0.1, follower: 0.3 } as const;

export const WARM_UPS = recipe<WarmUps>({
  id: 'warmUps',
  about:
    'Warm-up of coolant, engine oil and transmission fluid as first-order balances (lumped capacity, Incropera & DeWitt ch. 5.1, from memory): coolant heated by the air that is burnt and cooled by the air outside, the others following the coolant; time constants, own heat and their uncertainty by least squares on the integrated balance.',
  compute(drive) {
    const coolant = seriesOf(drive, 'coolantTemperature');
    return {
      coolant: isRefusal(coolant) ? coolant : coolantOf(drive, coolant),
      oil: followerOf(drive, 'engineOilTemperature', UP_TO.oil, coolant),
      transmission: followerOf(drive, 'transmissionOilTemperature', UP_TO.transmission, coolant),
    };
  },
});

function seriesOf(drive: Drive, id: string): FluidSeries | Refusal {
  const channel = drive.channel(id);
  const series =
    channel === undefined || channel.quality.constant
      ? undefined
      : fluidSeries(channel.values, drive.time, freshRate(channel).hz, { leap: 15, ramp: 3 });
  return series ?? refuse(`no warm-up: ${id} is absent or never moves`, { channels: [id] });
}

/** Points of the fit: seconds, degC, and the running sums of the balance. */
interface Grid {
  readonly t: Float64Array;
  readonly y: Float64Array;
}

/** From the first turn of a cold engine until the fluid reaches `upTo`; a refusal when that was not recorded. */
function gridOf(drive: Drive, series: FluidSeries, id: string, upTo: number): Grid | Refusal {
  const condition = `cold start (below ${COLD} °C) and the drive until ${id} is warm`;
  const running = runningOrAll(drive).indexOf(1);
  if (running < 0) return refuse('no warm-up: the engine never turned', { conditions: [condition] });
  const from = Math.max(drive.time[running]!, series.time[0]!);
  const first = valueAt(series, from);
  if (!(first < COLD)) return refuse(`no warm-up: ${id} was not cold at the start`, { conditions: [condition] });
  const t: number[] = [];
  const y: number[] = [];
  let k = 0;
  for (let s = from; s <= series.time[series.time.length - 1]!; s += GRID) {
    while (k + 1 < series.time.length && series.time[k + 1]! <= s) k++;
    // A gap of the log ends what can be summed up.
    if (s - series.time[k]! > Math.max(30, series.maxGap)) break;
    const x = between(series, k, s);
    if (x >= upTo || s - from > LONGEST) break;
    t.push(s);
    y.push(x);
  }
  const span = t.length < 2 ? 0 : t[t.length - 1]! - t[0]!;
  const rise = y.length < 2 ? 0 : y[y.length - 1]! - y[0]!;
  if (span < LASTS || t.length < SAMPLES || rise < RISES)
    return refuse(`no warm-up: ${id} rose by ${Math.round(rise)} K in ${Math.round(span)} s of the recording`, {
      conditions: [condition],
    });
  return { t: Float64Array.from(t), y: Float64Array.from(y) };
}

function valueAt(series: FluidSeries, t: number): number {
  let k = 0;
  while (k + 1 < series.time.length && series.time[k + 1]! <= t) k++;
  return between(series, k, t);
}

/** On the line between two samples: whole degrees of a slow fluid are passed steadily. */
function between({ time, value, maxGap }: FluidSeries, k: number, t: number): number {
  const span = k + 1 < time.length ? time[k + 1]! - time[k]! : 0;
  if (!(span > 0) || span > Math.max(60, maxGap) || t < time[k]!) return value[k]!;
  return value[k]! + ((value[k + 1]! - value[k]!) * (t - time[k]!)) / span;
}

/** T - T0 = k x (grams of air) - (1 / tau) x integral of (T - outside). */
function coolantOf(drive: Drive, series: FluidSeries): WarmUp | Refusal {
  const grid = gridOf(drive, series, 'coolantTemperature', UP_TO.coolant);
  if (isRefusal(grid)) return grid;
  const air = drive.derive(MEASURED_AIR);
  if (isRefusal(air)) return refuse(`no warm-up of the coolant: ${air.reason}`, air.missing);
  const ambient = drive.derive(AMBIENT);
  if (isRefusal(ambient)) return ambient;
  const grams = summed(drive.time, air.values, grid.t);
  const lost = integrated(grid.t, (i) => ambient.temperature - grid.y[i]!);
  return fitted('coolantTemperature', grid, grams, lost);
}

/** T - T0 = h x (own work) + (1 / tau) x integral of (coolant - T). */
function followerOf(drive: Drive, id: string, upTo: number, coolant: FluidSeries | Refusal): WarmUp | Refusal {
  if (isRefusal(coolant)) return coolant;
  const series = seriesOf(drive, id);
  if (isRefusal(series)) return series;
  const grid = gridOf(drive, series, id, upTo);
  if (isRefusal(grid)) return grid;
  const own = ownHeat(drive, id, grid);
  if (isRefusal(own)) return own;
  const leads = grid.t.map((t) => valueAt(coolant, t));
  return fitted(
    id,
    grid,
    own,
    integrated(grid.t, (i) => leads[i]! - grid.y[i]!),
  );
}

/**
 * Friction of the turning engine, bar x 1000 rev per s (motored friction by Heywood 1988 eq. 13.6, from memory; cold oil
 * rubs about twice as much as hot oil, common practice, no source).
 * @param speed rpm; @param oil degC
 */
export function oilFriction(speed: number, oil: number): number {
  const k = speed / 1000;
  const thick = 1 + 0.8 * Math.max(0, (90 - oil) / 90);
  return (k * thick * (0.97 + 0.15 * k + 0.05 * k * k)) / 60;
}

/**
 * What heats the fluid itself, summed up: of the oil the friction of the turning engine, of the transmission fluid the work that passes, by the air that is burnt (g).
 */
function ownHeat(drive: Drive, id: string, grid: Grid): Float64Array | Refusal {
  if (id === 'engineOilTemperature') {
    const speed = samplesOf(drive).held('engineSpeed');
    if (speed === undefined)
      return refuse(`no warm-up of ${id}, because engineSpeed is absent`, { channels: ['engineSpeed'] });
    let warmth = grid.y[0]!;
    let g = 0;
    const power = speed.map((n, i) => {
      while (g < grid.t.length && grid.t[g]! <= drive.time[i]!) warmth = grid.y[g++]!;
      return oilFriction(n, warmth);
    });
    return summed(drive.time, power, grid.t);
  }
  const air = drive.derive(MEASURED_AIR);
  if (isRefusal(air)) return refuse(`no warm-up of ${id}: ${air.reason}`, air.missing);
  return summed(drive.time, air.values, grid.t);
}

/** Trapezoids over the grid, 0 at its begin. */
function integrated(t: Float64Array, of: (i: number) => number): Float64Array {
  const sum = new Float64Array(t.length);
  for (let i = 1; i < t.length; i++) sum[i] = sum[i - 1]! + ((of(i) + of(i - 1)) / 2) * (t[i]! - t[i - 1]!);
  return sum;
}

/** Running integral of row values at the times of the grid; a row without a value adds nothing, nor does a gap. */
function summed(time: Float64Array, values: Float64Array, t: Float64Array): Float64Array {
  const sum = new Float64Array(t.length);
  let row = 1;
  while (row < time.length && time[row]! <= t[0]!) row++;
  let total = 0;
  for (let i = 0; i < t.length; i++) {
    for (; row < time.length && time[row]! <= t[i]!; row++) {
      const step = time[row]! - time[row - 1]!;
      const x = values[row]!;
      if (x > 0) total += x * Math.min(step, 5);
    }
    sum[i] = total;
  }
  return sum;
}

/** Start, own heat and exchange by least squares; neighbouring residuals are alike, so fewer of them count. */
function fitted(channel: string, { t, y }: Grid, heat: Float64Array, exchange: Float64Array): WarmUp | Refusal {
  const one = new Float64Array(t.length).fill(1);
  const fit = leastSquares([one, heat, exchange], y);
  if (fit === undefined)
    return refuse(`no warm-up: ${channel} does not tell its own heat from what it exchanges`, {
      conditions: ['a warm-up with idle and driving'],
    });
  const [start, k, rate] = [fit.coefficients[0]!, fit.coefficients[1]!, fit.coefficients[2]!];
  const model = y.map((_x, i) => start + k * heat[i]! + rate * exchange[i]!);
  const left = y.map((x, i) => x - model[i]!);
  const alike = Math.max(1, t.length / Math.max(3, effectiveSampleSize(left)));
  const variance = Math.max(fit.variance, PLACE * PLACE) * alike;
  const uOf = (i: number): number => Math.sqrt(variance * fit.inverse[4 * i]!);
  const begin = t[0]!;
  return {
    channel,
    from: begin,
    to: t[t.length - 1]!,
    first: model[0]!,
    last: model[model.length - 1]!,
    tau: rate > 0 ? 1 / rate : Number.POSITIVE_INFINITY,
    rate,
    rateU: Math.hypot(uOf(2), rate * (channel === 'coolantTemperature' ? ONE_CONSTANT.coolant : ONE_CONSTANT.follower)),
    heat: k,
    heatU: uOf(1),
    residual: Math.sqrt(fit.variance),
    at: (seconds) => {
      const i = seconds / GRID;
      const low = Math.floor(i);
      if (!(i >= 0) || low + 1 >= model.length) return Number.NaN;
      return model[low]! + (model[low + 1]! - model[low]!) * (i - low);
    },
  };
}
