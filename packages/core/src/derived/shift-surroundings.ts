import { median } from '../math/quantile.js';
import { ACCELERATION } from './acceleration.js';
import { firstAtOrAfter } from './intervals.js';
import { LOAD_FRACTION } from './load-fraction.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal } from './recipe.js';
import { samplesOf } from './samples.js';

/** What the car did around a shift. NaN = not recorded. */
export interface ShiftSurroundings {
  /** Pedal pressed or torque positive at the start: `on`; released or overrun: `off`. */
  readonly power: 'on' | 'off' | 'unknown';
  /** Pedal, % of travel: at the start, and lowest and highest from there to the end. */
  readonly pedal: number;
  readonly pedalLow: number;
  readonly pedalHigh: number;
  /** Load fraction at the start. */
  readonly load: number;
  /** degC */
  readonly fluid: number;
  /** m/s2 by which the acceleration dips below the lower of before and after: both clutches hold. */
  readonly tieUp: number;
  /** True when the drive was let go in the shift: a car that gained speed before it gained none in it. Undefined when it gained none before. */
  readonly driveLost: boolean | undefined;
  /** Share of the engine torque that is taken back during the shift. */
  readonly intervention: number;
}

/** Pedal (% of travel) from which the driver wants power, and below which none. Common practice, no source. */
const PRESSED = 10;
const RELEASED = 3;
/** Seconds before the change in which the pedal counts already. */
const BEFORE = 0.2;

/** Lowest and highest pedal (% of travel; NaN when it is not known) from just before a shift to a moment in it (s). */
export function pedalBetween(drive: Drive, from: number, to: number): { readonly low: number; readonly high: number } {
  const pedal = drive.derive(PEDAL_RELATIVE);
  if (isRefusal(pedal)) return { low: Number.NaN, high: Number.NaN };
  const start = Math.max(0, firstAtOrAfter(drive.time, from - BEFORE));
  // A pedal that is logged slowly shows a movement up to one interval of its own late.
  const late = Math.max(0, 1 / samplesOf(drive).hz(pedal.source) - samplesOf(drive).spacing);
  return extremes(pedal.values, start, Math.min(drive.time.length - 1, firstAtOrAfter(drive.time, to + late)));
}

export function surroundingsOf(drive: Drive, from: number, to: number): ShiftSurroundings {
  const samples = samplesOf(drive);
  const start = Math.max(0, firstAtOrAfter(drive.time, from - BEFORE));
  const end = Math.min(drive.time.length - 1, firstAtOrAfter(drive.time, to + 0.1));
  const pedal = drive.derive(PEDAL_RELATIVE);
  const travel = isRefusal(pedal) ? undefined : extremes(pedal.values, start, end);
  const at = isRefusal(pedal) ? Number.NaN : pedal.values[start]!;
  const torque = samples.held('engineTorque');
  const load = drive.derive(LOAD_FRACTION);
  const fluid = samples.held('transmissionOilTemperature');
  const acceleration = drive.derive(ACCELERATION);
  const fast = !isRefusal(acceleration) && acceleration.window <= 0.15;
  return {
    power: at >= PRESSED ? 'on' : at <= RELEASED ? 'off' : 'unknown',
    pedal: at,
    pedalLow: travel?.low ?? Number.NaN,
    pedalHigh: travel?.high ?? Number.NaN,
    load: isRefusal(load) ? Number.NaN : load.values[start]!,
    fluid: fluid?.[start] ?? Number.NaN,
    tieUp: fast ? dip(drive, acceleration.values, from, to) : Number.NaN,
    driveLost: isRefusal(acceleration) ? undefined : driveLost(drive, acceleration.values, from, to),
    intervention: torque === undefined ? Number.NaN : takenBack(drive, torque, from, to),
  };
}

function extremes(values: Float64Array, start: number, end: number): { readonly low: number; readonly high: number } {
  let low = Number.NaN;
  let high = Number.NaN;
  for (let i = start; i <= end; i++) {
    const x = values[i]!;
    if (!(x >= low)) low = Number.isNaN(x) ? low : x;
    if (!(x <= high)) high = Number.isNaN(x) ? high : x;
  }
  return { low, high };
}

function between(drive: Drive, values: Float64Array, from: number, to: number): number[] {
  const found: number[] = [];
  for (let i = firstAtOrAfter(drive.time, from); i < drive.time.length && drive.time[i]! <= to; i++) {
    if (!Number.isNaN(values[i]!)) found.push(values[i]!);
  }
  return found;
}

function dip(drive: Drive, values: Float64Array, from: number, to: number): number {
  const before = median(between(drive, values, from - 0.6, from - 0.1));
  const after = median(between(drive, values, to + 0.1, to + 0.6));
  const during = between(drive, values, from, to);
  return during.length === 0 ? Number.NaN : Math.max(0, Math.min(before, after) - Math.min(...during));
}

/** m/s2 that a car must gain before a shift for a loss of drive in it to show. */
const GAINS = 0.3;
/** Share of that gain below which none is left. Common practice, no source. */
const NONE = 0.1;

function driveLost(drive: Drive, acceleration: Float64Array, from: number, to: number): boolean | undefined {
  const before = median(between(drive, acceleration, from - 0.8, from - 0.2));
  const during = between(drive, acceleration, from, to);
  if (!(before >= GAINS) || during.length === 0) return undefined;
  return Math.min(...during) <= NONE * before;
}

function takenBack(drive: Drive, torque: Float64Array, from: number, to: number): number {
  const before = median(between(drive, torque, from - 0.6, from - 0.1));
  const during = between(drive, torque, from - 0.1, to + 0.1);
  if (!(before > 20) || during.length === 0) return Number.NaN;
  return Math.max(0, 1 - Math.max(0, Math.min(...during)) / before);
}
