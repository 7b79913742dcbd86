import { lastAtOrBefore } from '../math/interpolate.js';
import { quantile } from '../math/quantile.js';
import { firstAtOrAfter } from './intervals.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { STANDSTILL } from './segments.js';
import { SPEED, type Speed } from './speed.js';
import { onsetOf, speedAt, steepestSecond, timeTo } from './start-of-motion.js';

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
  /** The same two, in a log slower than 5 Hz by two samples in turn: one alone may be the moment before a brisk start. */
  readonly sure: { readonly heldEngineSpeed: number; readonly pedalAtHold: number };
  /** True when the brake was pressed in the last second before the start; undefined when not recorded. */
  readonly brake: boolean | undefined;
  /** Greatest relative pedal until 2 s after the start, %; NaN when not recorded. With `pedalKnown` false a lower bound. */
  readonly pedalMax: number;
  readonly pedalKnown: boolean;
  /** Speed gained over the first second, as m/s2. */
  readonly meanAcceleration: Estimate;
  /** Greatest mean acceleration over about a second soon after the begin, m/s2: a bound that no begin can spoil. */
  readonly steepest: number;
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

/** Hz from which 0.4 s can be seen: 5, less what clocks of loggers wander. */
const FAST = 4.75;
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
  const to40 = timeTo(time, speed, k, onset.t, 40);
  const holdFrom = Math.max(time[stoodFrom]!, onset.t - 3);
  const pedal = drive.derive(PEDAL_RELATIVE);
  const engine = samples.held('engineSpeed');
  const held = (by: typeof sustained) => ({
    heldEngineSpeed:
      engine === undefined ? Number.NaN : by(time, engine, holdFrom, time[last]!, samples.hz('engineSpeed')),
    pedalAtHold: isRefusal(pedal)
      ? Number.NaN
      : by(time, pedal.values, holdFrom, time[last]!, samples.hz(pedal.source)),
  });
  const reached = greatest(time, values, onset.t, onset.t + 6);
  const sensed = sensorGain(drive, stoodFrom, last, onset.t);
  return {
    from: onset.t,
    fromUncertainty: onset.u,
    row: last,
    standstill: Math.max(0, onset.t - time[stoodFrom]!),
    ...held(sustained),
    sure: held(twice),
    brake: braked(drive, time[last]! - 1, time[last]!),
    pedalMax: isRefusal(pedal) ? Number.NaN : greatest(time, pedal.values, onset.t - 0.5, onset.t + 2),
    pedalKnown: !isRefusal(pedal) && pedal.fullSeen,
    meanAcceleration,
    steepest: steepestSecond(time, speed, k, onset.t),
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

/** Greatest value that was held for 0.4 s, or, in a slower log, by one sample; NaN without samples. */
function sustained(time: Float64Array, values: Float64Array, from: number, to: number, hz: number): number {
  const first = firstAtOrAfter(time, from);
  const last = lastAtOrBefore(time, to);
  const width = hz >= FAST ? 0.4 : 0;
  let best = Number.NaN;
  for (let i = first; i <= last; i++) {
    if (time[i]! + width > time[last]! + 1e-9 && i > first) break;
    let low = values[i]!;
    for (let j = i + 1; j <= last && time[j]! <= time[i]! + width + 1e-9; j++) if (values[j]! < low) low = values[j]!;
    if (!(low <= best)) best = low;
  }
  return best;
}

/** As {@link sustained}, in a slower log by two samples in turn; NaN where there are no two. */
function twice(time: Float64Array, values: Float64Array, from: number, to: number, hz: number): number {
  if (hz >= FAST) return sustained(time, values, from, to, hz);
  const first = firstAtOrAfter(time, from);
  const last = lastAtOrBefore(time, to);
  let best = Number.NaN;
  for (let i = first; i <= last; i++) {
    let low = values[i]!;
    let j = i + 1;
    for (; j <= last; j++) {
      if (values[j]! < low) low = values[j]!;
      if (time[j]! - time[i]! >= 0.7 / hz) break;
    }
    if (j <= last && !(low <= best)) best = low;
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
