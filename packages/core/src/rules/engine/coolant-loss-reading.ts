import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { firstAtOrAfter } from '../../derived/intervals.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { type FluidSeries, fluidSeries, type Inertia } from '../../derived/temperature-series.js';
import { median, quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** A sensor in a bubble of steam moves faster than metal can: as for over-temperature, with room for the swing itself. */
const INERTIA: Inertia = { leap: 30, ramp: 6 };
/** A swing takes no longer than this (s). */
const WITHIN = 10;
/** The coolant counts as regulated from this long (s) after it first stood within 5 K of its usual level. */
const OPENED = 120;
const NEAR_LEVEL = 5;
/**
 * Load and road speed that change by more than this explain a swing: points of pedal (else of load, else of torque over
 * its own highest), km/h; from so many seconds before it, because cold water from the radiator needs its time.
 */
const STEADY = { pedal: 30, speed: 15, around: 20 } as const;
/** Iron and water follow the heat of so many seconds, not a stab at the pedal: of the pedal its mean over them counts. Common practice, no source. */
const HEAT = 10;
/** A single step of more than this share of a swing is wiring, not water. */
const ONE_STEP = 0.6;
/** Share of a swing that has to be taken back before another one in the same direction counts. */
const RETURN = 0.5;
/** A bubble passes: what does not come back, or had not come from there, within this long (s) is cold or hot water. Common practice, no source. */
const BACK = 20;
/** Slowest log that shows a swing of ten seconds, Hz. */
export const SLOWEST = 0.5;
/** Load fractions whose coolant pressure is compared, and how alike their temperature has to be, K. */
const PRESSED = { high: 0.6, low: 0.3, alike: 3 } as const;

/** kPa in a bar: the unit of the channel. */
const KPA = 100;

export interface Swing {
  readonly from: number;
  readonly to: number;
  /** K, positive = up. */
  readonly size: number;
}

export interface CoolantReading {
  readonly swings: readonly Swing[];
  /** Regulated coolant at steady load, s. */
  readonly steady: number;
  /** degC, highest. */
  readonly peak: number;
  readonly peakAt: number;
  /** kPa by which the coolant is pressed under load, at equal temperature; NaN when not told. */
  readonly pressed: number;
  readonly pressedU: number;
  /** The level was told to be low for three seconds. */
  readonly low: boolean;
  readonly levelKnown: boolean;
  readonly u: number;
  readonly channels: readonly Channel[];
}

type Id = 'coolantTemperature' | 'coolantPressure' | 'coolantLevelWarning' | 'engineLoad' | 'engineTorque';
type Reads = Pick<Drive, 'time' | 'derive'> & { readonly optional: (id: Id) => Channel | undefined };

/** @param least K from which a swing counts */
export function readCoolant(view: Reads, coolant: Channel, least: number): CoolantReading | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const { hz } = freshRate(coolant);
  if (hz > 0 && hz < SLOWEST)
    return refuse('the coolant temperature comes too slowly to show swings of ten seconds', {
      conditions: [`coolantTemperature at >= ${SLOWEST} Hz`],
    });
  const series = fluidSeries(coolant.values, view.time, hz, INERTIA);
  if (series === undefined)
    return refuse('the coolant temperature holds no usable samples', { channels: ['coolantTemperature'] });
  const from = regulatedFrom(series);
  const steady = steadiness(view);
  if (isRefusal(steady)) return steady;
  const u = Math.SQRT2 * uncertaintyOf(coolant, { noise: series.noise, fresh: series.smoothedOver });
  const swings = swingsOf(series, from, least, u, hz).filter((swing) => steady(swing.from - STEADY.around, swing.to));
  let seconds = 0;
  let top = 0;
  for (let i = 0; i < series.value.length; i++) {
    if (series.value[i]! > series.value[top]!) top = i;
    if (series.time[i]! >= from) seconds += series.hold[i]!;
  }
  const warning = samples.held('coolantLevelWarning');
  const pressure = view.optional('coolantPressure');
  return {
    swings,
    steady: seconds,
    peak: series.value[top]!,
    peakAt: series.time[top]!,
    ...pressedOf(view, pressure, samples.held('coolantPressure'), samples.held('coolantTemperature')),
    low: warning !== undefined && heldOn(warning, view.time, 3),
    levelKnown: warning !== undefined,
    u,
    channels: [coolant, ...(pressure === undefined ? [] : [pressure])],
  };
}

/** Seconds from which the thermostat regulates: it has opened for the first time, and what that stirred up is over. */
function regulatedFrom(series: FluidSeries): number {
  const level = quantile(series.value, 0.6);
  const row = series.value.findIndex((x) => x >= level - NEAR_LEVEL);
  const started = series.value[0]! < level - 2 * NEAR_LEVEL;
  return row < 0 || level < 70 ? Number.POSITIVE_INFINITY : series.time[row]! + (started ? OPENED : 0);
}

/** Turns of the temperature that lie further apart than `least` and follow within ten seconds. */
function swingsOf(series: FluidSeries, from: number, least: number, u: number, hz: number): Swing[] {
  const { time, value } = series;
  const found: (Swing & { end: number })[] = [];
  let start = firstAtOrAfter(time, from);
  if (start >= value.length) return found;
  // Last turn, and the extreme since then.
  let turn = start;
  let extreme = start;
  for (let i = start + 1; i < value.length; i++) {
    if (time[i]! - time[i - 1]! > series.maxGap) {
      turn = i;
      extreme = i;
      continue;
    }
    // The turn may not lie further back than a swing lasts: the level of then counts.
    while (time[i]! - time[turn]! > WITHIN) turn++;
    if (turn > extreme) extreme = turn;
    const size = value[i]! - value[turn]!;
    if (Math.abs(size) > Math.abs(value[extreme]! - value[turn]!)) extreme = i;
    if (exceeds(Math.abs(size), u, least, '>') !== 'beyond') {
      if (Math.sign(value[i]! - value[turn]!) !== Math.sign(value[extreme]! - value[turn]!)) turn = extreme;
      continue;
    }
    const last = found[found.length - 1];
    // A long climb is one swing, however many pieces of ten seconds it has: the next one has to come from back where it was.
    const further =
      last !== undefined &&
      Math.sign(last.size) === Math.sign(size) &&
      (value[turn]! - last.end) * Math.sign(size) > -RETURN * Math.abs(last.size);
    if (further) last.end = value[i]!;
    else if (!(hz >= 1) || largestStep(value, turn, i) <= ONE_STEP * Math.abs(size))
      found.push({ from: time[turn]!, to: time[i]!, size, end: value[i]! });
    turn = i;
    extreme = i;
    start = i;
  }
  return found.map((swing) => whole(series, swing)).filter((swing) => passes(series, swing));
}

/** Whether half of the swing and more is taken back soon after it, or whether it takes back what came just before. */
function passes({ time, value }: FluidSeries, { from, to, size }: Swing): boolean {
  const first = firstAtOrAfter(time, from);
  const last = firstAtOrAfter(time, to);
  const back = (x: number, end: number) => (end - x) * Math.sign(size) >= RETURN * Math.abs(size);
  for (let i = last; i < value.length && time[i]! - to <= BACK; i++) if (back(value[i]!, value[last]!)) return true;
  for (let i = first; i >= 0 && from - time[i]! <= BACK; i--) if (back(value[first]!, value[i]!)) return true;
  return false;
}

/** A swing is known as soon as it is beyond the limit; it is as large as it gets within its ten seconds. */
function whole({ time, value }: FluidSeries, swing: Swing): Swing {
  const start = firstAtOrAfter(time, swing.from);
  let { size, to } = swing;
  for (let i = start; i < value.length && time[i]! - time[start]! <= WITHIN; i++) {
    const reached = value[i]! - value[start]!;
    if (Math.sign(reached) === Math.sign(size) && Math.abs(reached) > Math.abs(size)) {
      size = reached;
      to = time[i]!;
    }
  }
  return { from: swing.from, to, size };
}

function largestStep(value: Float64Array, from: number, to: number): number {
  let most = 0;
  for (let i = from + 1; i <= to; i++) most = Math.max(most, Math.abs(value[i]! - value[i - 1]!));
  return most;
}

/** Torque as % of its own highest. */
function torqueShare(torque: Float64Array | undefined): Float64Array | undefined {
  if (torque === undefined) return undefined;
  const highest = quantile(torque, 0.99);
  return highest > 0 ? torque.map((x) => (100 * x) / highest) : undefined;
}

/** Whether pedal (else load, else torque) and road speed stayed about the same between two seconds. */
function steadiness(view: Reads): ((from: number, to: number) => boolean) | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const pedal = view.derive(PEDAL_RELATIVE);
  const speed = view.derive(SPEED);
  const load = isRefusal(pedal)
    ? (samples.held('engineLoad') ?? torqueShare(samples.held('engineTorque')))
    : pedal.values;
  if (load === undefined || isRefusal(speed))
    return refuse('steady load cannot be told', {
      channels: [...(load === undefined ? ['engineLoad'] : []), ...(isRefusal(speed) ? speed.missing.channels : [])],
    });
  const columns = [
    // A load or torque that swings is heat that swings; overrun cools within seconds.
    { values: isRefusal(pedal) ? load : meanOver(load, view.time, HEAT), most: STEADY.pedal },
    { values: speed.values, most: STEADY.speed },
  ];
  return (from, to) => {
    const start = firstAtOrAfter(view.time, from);
    const end = firstAtOrAfter(view.time, to + 1e-9);
    return columns.every(({ values, most }) => {
      const seen = values.subarray(start, end);
      return !(quantile(seen, 1) - quantile(seen, 0) > most);
    });
  };
}

/** NaN is passed over; none in the window gives NaN. Mean of the rows of so many seconds up to each. */
function meanOver(values: Float64Array, time: Float64Array, seconds: number): Float64Array {
  const out = new Float64Array(values.length);
  let sum = 0;
  let count = 0;
  let first = 0;
  for (let i = 0; i < values.length; i++) {
    if (!Number.isNaN(values[i]!)) {
      sum += values[i]!;
      count++;
    }
    for (; time[i]! - time[first]! > seconds; first++)
      if (!Number.isNaN(values[first]!)) {
        sum -= values[first]!;
        count--;
      }
    out[i] = count === 0 ? Number.NaN : sum / count;
  }
  return out;
}

/** Pressure under load less pressure without, at the temperature that both share. */
function pressedOf(
  view: Reads,
  channel: Channel | undefined,
  pressure: Float64Array | undefined,
  coolant: Float64Array | undefined,
): { readonly pressed: number; readonly pressedU: number } {
  const load = view.derive(LOAD_FRACTION);
  if (
    channel === undefined ||
    pressure === undefined ||
    coolant === undefined ||
    isRefusal(load) ||
    channel.quality.constant
  )
    return { pressed: Number.NaN, pressedU: Number.NaN };
  const heavy: number[] = [];
  const warmth: number[] = [];
  for (let i = 0; i < pressure.length; i++)
    if (load.values[i]! >= PRESSED.high && !Number.isNaN(pressure[i]!)) {
      heavy.push(pressure[i]!);
      warmth.push(coolant[i]!);
    }
  const at = median(warmth);
  const light: number[] = [];
  for (let i = 0; i < pressure.length; i++)
    if (
      load.cruiseLow[i] === 1 &&
      load.values[i]! < PRESSED.low &&
      Math.abs(coolant[i]! - at) <= PRESSED.alike &&
      !Number.isNaN(pressure[i]!)
    )
      light.push(pressure[i]!);
  if (heavy.length < 20 || light.length < 20) return { pressed: Number.NaN, pressedU: Number.NaN };
  return {
    pressed: KPA * (median(heavy) - median(light)),
    pressedU: Math.hypot(KPA * uncertaintyOf(channel), 2),
  };
}

function heldOn(values: Float64Array, time: Float64Array, seconds: number): boolean {
  let since = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    if (!(values[i]! >= 0.5)) since = Number.NaN;
    else if (Number.isNaN(since)) since = time[i]!;
    else if (time[i]! - since >= seconds) return true;
  }
  return false;
}
