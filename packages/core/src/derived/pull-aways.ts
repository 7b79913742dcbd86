import { lastAtOrBefore } from '../math/interpolate.js';
import { quantile } from '../math/quantile.js';
import { firstAtOrAfter } from './intervals.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { STANDSTILL } from './segments.js';
import { SPEED, type Speed } from './speed.js';

export interface Estimate {
  readonly value: number;
  /** Standard uncertainty, same unit. */
  readonly u: number;
}

/** One start from standstill. */
export interface PullAway {
  /** Seconds at which the car began to move, and its standard uncertainty. */
  readonly from: number;
  readonly fromUncertainty: number;
  /** Row of the last standing sample. */
  readonly row: number;
  /** Seconds that the car stood before. */
  readonly standstill: number;
  /** Engine speed held before the start for >= 0.4 s (one sample of a slower log), rpm; NaN when not recorded. */
  readonly heldEngineSpeed: number;
  /** Relative pedal held before the start likewise, %; NaN when not recorded. */
  readonly pedalAtHold: number;
  /** True when the brake was pressed in the last second before the start; undefined when not recorded. */
  readonly brake: boolean | undefined;
  /** Greatest relative pedal until 2 s after the start, %; NaN when not recorded. With `pedalKnown` false a lower bound. */
  readonly pedalMax: number;
  readonly pedalKnown: boolean;
  /** Speed gained over the first second, as m/s2. */
  readonly meanAcceleration: Estimate;
  /** Seconds to 40 km/h, NaN when it was not reached within 15 s. */
  readonly timeTo40: Estimate;
  /** Greatest speed within 6 s, km/h. */
  readonly speedReached: number;
  /** True when the speed holds no driven wheel, so that wheelspin cannot fake it. */
  readonly undriven: boolean;
  /** Mean of the acceleration sensor over the first second, less its value at rest, m/s2; NaN when not recorded. */
  readonly sensed: number;
  /** True when the speed cannot be the car's: faster than tyres can push, or gone again at once. */
  readonly wheelspin: boolean;
  /** Last gear selector value before the start (as the channel codes it); NaN when not recorded. */
  readonly selector: number;
}

/** Shortest standstill that a start is counted from (s). */
const STOOD = 0.5;
/** No road tyre pushes a car harder than about 1.2 g (common practice). */
const TYRE_LIMIT = 12;

export const PULL_AWAYS = recipe<readonly PullAway[]>({
  id: 'pullAways',
  about:
    'Every start from a standstill of >= 0.5 s: begin by extrapolation of the first fresh speeds to zero, mean acceleration over the first second with the uncertainty of quantum, begin and jerk.',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no pull-aways: ${speed.reason}`, speed.missing);
    const standstill = drive.derive(STANDSTILL);
    if (isRefusal(standstill)) return standstill;
    if (!moves(speed)) {
      return refuse(`no pull-aways: ${speed.source} never changes`, {
        channels: ['vehicleSpeed'],
        conditions: ['car driven'],
      });
    }
    const found: PullAway[] = [];
    for (const stop of standstill) {
      const stood = stop.to - stop.from;
      if (stood < STOOD && !(stood + 1 / speed.hz >= STOOD && stop.end > stop.start)) continue;
      const start = pullAway(drive, speed, stop.start, stop.end);
      if (start !== undefined) found.push(start);
    }
    return found;
  },
});

function moves(speed: Speed): boolean {
  for (let i = 0; i < speed.values.length; i++) if (speed.values[i]! >= 5) return true;
  return false;
}

function pullAway(drive: Drive, speed: Speed, stoodFrom: number, last: number): PullAway | undefined {
  const { time } = drive;
  const { values, fresh } = speed;
  const samples = samplesOf(drive);
  if (last + 1 >= time.length || time[last + 1]! - time[last]! > samples.maxStep) return undefined;
  // First fresh sample that moves, and those after it.
  let k = lastAtOrBefore(fresh, last) + 1;
  while (k < fresh.length && !(values[fresh[k]!]! >= speed.standing)) k++;
  if (k >= fresh.length) return undefined;
  const onset = onsetOf(time, speed, k, last);
  const gain = speedAt(time, speed, k, onset.t, onset.t + 1);
  if (gain === undefined || time[time.length - 1]! < onset.t + 1) return undefined;
  const slopeAfter = gain.slope / 3.6;
  const meanAcceleration = {
    value: gain.v / 3.6,
    u: Math.hypot((speed.quantum / 3.6) * Math.sqrt(2 / 12), slopeAfter * onset.u, gain.u / 3.6),
  };
  const to40 = reach(time, speed, k, onset.t, 40);
  const holdFrom = Math.max(time[stoodFrom]!, onset.t - 3);
  const pedal = drive.derive(PEDAL_RELATIVE);
  const engine = samples.held('engineSpeed');
  const reached = greatest(time, values, onset.t, onset.t + 6);
  const sensed = sensorGain(drive, stoodFrom, last, onset.t);
  return {
    from: onset.t,
    fromUncertainty: onset.u,
    row: last,
    standstill: Math.max(0, onset.t - time[stoodFrom]!),
    heldEngineSpeed:
      engine === undefined ? Number.NaN : sustained(time, engine, holdFrom, time[last]!, samples.hz('engineSpeed')),
    pedalAtHold: isRefusal(pedal)
      ? Number.NaN
      : sustained(time, pedal.values, holdFrom, time[last]!, samples.hz(pedal.source)),
    brake: braked(drive, time[last]! - 1, time[last]!),
    pedalMax: isRefusal(pedal) ? Number.NaN : greatest(time, pedal.values, onset.t - 0.5, onset.t + 2),
    pedalKnown: !isRefusal(pedal) && pedal.fullSeen,
    meanAcceleration,
    timeTo40:
      to40 === undefined
        ? { value: Number.NaN, u: Number.NaN }
        : { value: to40 - onset.t, u: Math.hypot(onset.u, 0.3 / speed.hz) },
    speedReached: reached,
    undriven: speed.undriven,
    sensed,
    wheelspin: spins(time, speed, onset.t, meanAcceleration.value, sensed),
    selector: lastValue(samples.held('selector'), last),
  };
}

interface Onset {
  readonly t: number;
  readonly u: number;
}

/**
 * Begin of movement from the first fresh moving samples, drawn back to zero speed in two ways: by a line (acceleration
 * at once: too late) and by a parabola (acceleration builds up: too early). The truth lies between, and the distance
 * counts as a rectangular uncertainty. A wheel sensor reads 0 up to 2-3 km/h, so in fast logs the begin
 * may lie before the last sample that stands.
 */
function onsetOf(time: Float64Array, speed: Speed, k: number, last: number): Onset {
  const { values, fresh, quantum } = speed;
  const t1 = time[fresh[k]!]!;
  const v1 = values[fresh[k]!]!;
  const interval = 1 / speed.hz;
  // Last sample that truly read rest: 0.8 km/h counts as standstill but is a car that moves.
  let m = k - 1;
  while (m > 0 && values[fresh[m]!]! > 0.6 * quantum && t1 - time[fresh[m]!]! < 1) m--;
  const rest = m >= 0 ? time[fresh[m]!]! : time[last]!;
  const earliest = Math.max(t1 - Math.max(1, 2 * interval), Math.min(rest, t1 - interval)) - (interval < 0.3 ? 0.6 : 0);
  // Far enough on for noise and quantum not to make the slope.
  let j = k + 1;
  while (j + 1 < fresh.length && (time[fresh[j]!]! - t1 < 0.1 || values[fresh[j]!]! - v1 < 1.5 * quantum)) {
    if (time[fresh[j]!]! - t1 > 1) break;
    j++;
  }
  const rise = j < fresh.length ? values[fresh[j]!]! - v1 : 0;
  if (!(rise > 0)) return { t: (earliest + t1) / 2, u: (t1 - earliest) / Math.sqrt(12) };
  const dt = time[fresh[j]!]! - t1;
  const clamp = (t: number): number => Math.min(t1, Math.max(earliest, t));
  const line = clamp(t1 - (v1 * dt) / rise);
  const parabola = clamp(t1 - (Math.sqrt(v1) * dt) / (Math.sqrt(v1 + rise) - Math.sqrt(v1)));
  const step = Math.min(interval, (quantum * dt) / rise);
  // Clutches take up over some tenths of a second: nearer to the parabola. What remains of the unknown build-up, of the
  // control unit's own filter and of the clamps is taken as 0.07 s and a tenth of the interval (common practice).
  const u = Math.hypot((line - parabola) / Math.sqrt(12), step / Math.sqrt(12), 0.07, 0.1 * interval);
  return { t: (line + 2 * parabola) / 3, u };
}

interface Gain {
  /** km/h at the time asked for. */
  readonly v: number;
  /** km/h per s there. */
  readonly slope: number;
  /** km/h, of the interpolation between distant samples. */
  readonly u: number;
}

/** Speed at `t` by the line between the fresh samples on both sides, from the begin of movement on. */
function speedAt(time: Float64Array, speed: Speed, k: number, begin: number, t: number): Gain | undefined {
  const { values, fresh } = speed;
  let j = k;
  while (j < fresh.length && time[fresh[j]!]! < t) j++;
  if (j >= fresh.length) return undefined;
  const t1 = time[fresh[j]!]!;
  const v1 = values[fresh[j]!]!;
  const t0 = j > k ? time[fresh[j - 1]!]! : begin;
  const v0 = j > k ? values[fresh[j - 1]!]! : 0;
  const span = t1 - t0;
  if (!(span > 0)) return { v: v1, slope: 0, u: 0 };
  if (span > 4 / speed.hz + 1) return undefined;
  const slope = (v1 - v0) / span;
  const next = j + 1 < fresh.length ? (values[fresh[j + 1]!]! - v1) / (time[fresh[j + 1]!]! - t1) : slope;
  // The line misses a bend by at most (change of slope) * span / 8.
  const bend = (Math.abs(next - slope) * span) / 8;
  // How the speed changes there, over a third of a second at least: neighbouring fine samples show their noise.
  let back = j;
  while (back > k && t1 - time[fresh[back]!]! < 0.3) back--;
  const wide = back < j ? (v1 - values[fresh[back]!]!) / (t1 - time[fresh[back]!]!) : slope;
  return { v: v0 + slope * (t - t0), slope: Math.max(0, wide), u: bend };
}

function reach(time: Float64Array, speed: Speed, k: number, begin: number, target: number): number | undefined {
  const { values, fresh } = speed;
  for (let j = k; j < fresh.length && time[fresh[j]!]! <= begin + 15; j++) {
    const v1 = values[fresh[j]!]!;
    if (v1 < target) {
      if (v1 < speed.standing && time[fresh[j]!]! > begin + 0.5) return undefined;
      continue;
    }
    const t1 = time[fresh[j]!]!;
    const t0 = j > k ? time[fresh[j - 1]!]! : begin;
    const v0 = j > k ? values[fresh[j - 1]!]! : 0;
    return t0 + ((target - v0) / (v1 - v0)) * (t1 - t0);
  }
  return undefined;
}

/** Greatest value that was held for 0.4 s, or, in a slower log, by one sample; NaN without samples. */
function sustained(time: Float64Array, values: Float64Array, from: number, to: number, hz: number): number {
  const first = firstAtOrAfter(time, from);
  const last = lastAtOrBefore(time, to);
  const width = hz >= 5 ? 0.4 : 0;
  let best = Number.NaN;
  for (let i = first; i <= last; i++) {
    if (time[i]! + width > time[last]! + 1e-9 && i > first) break;
    let low = values[i]!;
    for (let j = i + 1; j <= last && time[j]! <= time[i]! + width + 1e-9; j++) if (values[j]! < low) low = values[j]!;
    if (!(low <= best)) best = low;
  }
  return best;
}

function greatest(time: Float64Array, values: Float64Array, from: number, to: number): number {
  let top = Number.NaN;
  for (let i = firstAtOrAfter(time, from); i < time.length && time[i]! <= to; i++) {
    const x = values[i]!;
    if (!(x <= top) && !Number.isNaN(x)) top = x;
  }
  return top;
}

/** Brake light switch; else pedal travel above 5 %, or pressure above 2 bar (common practice). */
const BRAKED = [
  ['brakeSwitch', 0.5],
  ['brakePedalPosition', 5],
  ['brakePressure', 2],
] as const;

function braked(drive: Drive, from: number, to: number): boolean | undefined {
  for (const [base, pressed] of BRAKED) {
    for (const channel of drive.family(base)) {
      const top = greatest(drive.time, samplesOf(drive).held(channel.id)!, from, to);
      if (!Number.isNaN(top)) return top > pressed;
    }
  }
  return undefined;
}

function sensorGain(drive: Drive, stoodFrom: number, last: number, begin: number): number {
  const values = samplesOf(drive).held('longitudinalAcceleration');
  if (values === undefined || samplesOf(drive).hz('longitudinalAcceleration') < 4) return Number.NaN;
  const { time } = drive;
  const rest = quantile(values.subarray(Math.max(stoodFrom, last - 500), last), 0.5);
  let total = 0;
  let count = 0;
  for (let i = firstAtOrAfter(time, begin); i < time.length && time[i]! <= begin + 1; i++) {
    if (Number.isNaN(values[i]!)) continue;
    total += values[i]!;
    count++;
  }
  return count > 0 ? total / count - (Number.isNaN(rest) ? 0 : rest) : Number.NaN;
}

/** Driven wheels that spin outrun what tyres can do, or fall back faster than a car brakes once they grip. */
function spins(time: Float64Array, speed: Speed, begin: number, mean: number, sensed: number): boolean {
  if (speed.undriven) return false;
  if (mean > TYRE_LIMIT) return true;
  if (sensed < 0.5 * mean && mean > 3) return true;
  const { values } = speed;
  let top = 0;
  let at = begin;
  for (let i = firstAtOrAfter(time, begin); i < time.length && time[i]! <= begin + 4; i++) {
    const v = values[i]!;
    if (v > top) {
      top = v;
      at = time[i]!;
    } else if (
      top > 10 &&
      v < 0.6 * top &&
      time[i]! - at < 1 &&
      (top - v) / 3.6 / Math.max(time[i]! - at, 0.1) > TYRE_LIMIT
    )
      return true;
  }
  return false;
}

function lastValue(values: Float64Array | undefined, row: number): number {
  if (values === undefined) return Number.NaN;
  for (let i = row; i >= 0 && row - i < 1000; i--) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}
