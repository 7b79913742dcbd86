import { FUEL_CUT } from './fuel-cut.js';
import { SHIFTS } from './gear-shifts.js';
import { maskOf, maskWhere, segmentsOf, widened } from './intervals.js';
import { PEDAL_RELEASED } from './pedal-released.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { heldOf, samplesOf } from './samples.js';
import { interventionsOf } from './torque-interventions.js';

export interface Firings {
  /** Revolutions between each row and the one before; 0 where the engine stands, and across gaps of the recording. */
  readonly revolutions: Float64Array;
  /** 1 = every cylinder is meant to fire: running, no fuel or ignition cut, no shift, no limiter, no cylinder shut off. */
  readonly wanted: Uint8Array;
  /** Reasons for which rows were left out, in words, as far as they occurred. */
  readonly left: readonly string[];
}

/** rpm from which an engine runs by itself; below, it is being cranked. */
const RUNS = 400;
/** The first second after a start belongs to it. */
const AFTER_START = 1;
/** Ignition is taken back from this many rpm below the limit on (common practice, no source). */
const BELOW_LIMIT = 150;
/** rpm above which a released pedal may mean a fuel cut also at standstill (common practice, no source). */
const MAY_CUT = 1500;
/** Combustion settles within this time (s) after a cut (common practice, no source). */
const SETTLES = 1;

/** Flags of interventions that cut or delay combustion on purpose. */
const FLAGS = [
  ['cylinderDeactivation', 'cylinders shut off by design'],
  ['revLimiterActive', 'speed limiter'],
  ['launchControlActive', 'launch control'],
  ['tractionControlActive', 'traction control'],
  ['stabilityControlActive', 'stability control'],
] as const;

export const FIRINGS = recipe<Firings>({
  id: 'firings',
  about:
    'Revolutions from row to row (integral of engine speed), and the rows at which every cylinder is meant to fire: outside fuel cut, shifts, limiters, traction control, cylinder shut-off and the first second after a start (common practice, no source).',
  compute(drive) {
    const speed = heldOf(drive, 'engineSpeed', 'firings');
    if (isRefusal(speed)) return refuse(`no firings: ${speed.reason}`, speed.missing);
    const { time } = drive;
    const samples = samplesOf(drive);
    const revolutions = new Float64Array(time.length);
    const stopped = new Uint8Array(time.length);
    for (let i = 0; i < time.length; i++) {
      if (!(speed[i]! >= RUNS)) stopped[i] = 1;
      if (i === 0) continue;
      const dt = time[i]! - time[i - 1]!;
      const mean = 0.5 * (speed[i]! + speed[i - 1]!);
      if (dt <= samples.maxStep && mean > 0) revolutions[i] = (mean * dt) / 60;
    }
    const wanted = new Uint8Array(time.length).fill(1);
    const left: string[] = [];
    const slow = 1.5 / samples.hz('engineSpeed');
    const leave = (mask: Uint8Array, reason: string, before: number, after: number): void => {
      const stretches = widened(segmentsOf(mask, time), time, before, after);
      if (stretches.length > 0 && reason !== '') left.push(reason);
      for (const { start, end } of stretches) wanted.fill(0, start, end + 1);
    };
    leave(stopped, '', 0, AFTER_START);
    leave(cutMask(drive, speed), 'fuel cut', slow, SETTLES + slow);
    const shifts = drive.derive(SHIFTS);
    if (!isRefusal(shifts)) leave(maskOf(shifts, time.length), 'shifts', 0, slow);
    leave(interventionsOf(drive).traction, 'traction control', slow, slow);
    const { revLimit } = drive.vehicle.engine;
    if (revLimit !== undefined)
      leave(
        maskWhere(speed.length, (i) => speed[i]! >= revLimit - BELOW_LIMIT),
        'speed limiter',
        slow,
        slow,
      );
    for (const [id, reason] of FLAGS) {
      const flag = samples.held(id);
      if (flag !== undefined)
        leave(
          maskWhere(flag.length, (i) => flag[i]! > 0),
          reason,
          slow,
          SETTLES,
        );
    }
    return { revolutions, wanted, left: [...new Set(left)] };
  },
});

/** Fuel cut, seen or to be expected: foot off the pedal at standstill from high speed is one too. */
function cutMask(drive: Drive, speed: Float64Array): Uint8Array {
  const cut = drive.derive(FUEL_CUT);
  const released = drive.derive(PEDAL_RELEASED);
  const mask = isRefusal(cut) ? new Uint8Array(speed.length) : new Uint8Array(cut.mask);
  if (!isRefusal(released))
    for (let i = 0; i < mask.length; i++) if (released.mask[i] === 1 && speed[i]! >= MAY_CUT) mask[i] = 1;
  return mask;
}
