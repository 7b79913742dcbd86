import { SHIFTS } from './gear-shifts.js';
import { firstAtOrAfter, maskOf, type Segment, segmentsOf, widened } from './intervals.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal } from './recipe.js';
import { heldValues } from './refresh.js';
import { type Samples, samplesOf } from './samples.js';
import { tipIns } from './tip-in.js';

/** Torque reduction lingers this long after a shift (s). */
const AFTER_SHIFT = 0.2;
/**
 * A shift told from engine speed over road speed is over within this (s, its margins of half a second included), up or
 * down: what lasts longer is an engine that runs up against a slipping clutch, spinning wheels or a road speed that does
 * not belong to it, and no torque reduction goes on for so long (common practice, no source).
 */
const LONGEST = { up: 2.5, down: 2 } as const;
const MARGIN = 0.5;
/** Torque comes back this long (s) after the wheels grip again (common practice, no source). */
const SLIP_LAG = 0.4;
/** Named in `blind`. */
export const TRACTION_BLIND = 'traction control (no flag and no wheel speeds recorded)';
/** Channels that tell of a torque intervention when above 0. */
const INTERVENTIONS = ['tractionControlActive', 'stabilityControlActive'] as const;

export interface KnockDecoys {
  /** 1 = tip-in or shift. */
  readonly mask: Uint8Array;
  /** 1 = tip-in alone. */
  readonly tipIn: Uint8Array;
  /** 1 = the traction control is at work, or may be. */
  readonly traction: Uint8Array;
  /** What could not be looked for, because what shows it is not recorded. */
  readonly blind: readonly string[];
}

/** Rows at which something other than knock retards the ignition. */
export function knockDecoys(drive: Drive): KnockDecoys {
  const { time } = drive;
  const samples = samplesOf(drive);
  const mask = new Uint8Array(time.length);
  const tipIn = new Uint8Array(time.length);
  const traction = new Uint8Array(time.length);
  const blind: string[] = [];
  const relative = drive.derive(PEDAL_RELATIVE);
  const source = drive.channel('pedalPosition') ? 'pedalPosition' : 'throttlePosition';
  const percent = isRefusal(relative) ? samples.held(source) : heldValues(relative.values, time);
  if (percent) {
    const spacing = 1 / samples.hz(isRefusal(relative) ? source : relative.source);
    // A fast log resolves the rise; only the spacing of a slow one widens the window.
    join(tipIn, tipIns(percent, time, spacing > 0.1 ? spacing : 0));
  } else blind.push('tip-in (no pedal or throttle recorded)');
  const shifts = drive.derive(SHIFTS);
  if (isRefusal(shifts)) blind.push('torque reduction in shifts (no gear or road speed recorded)');
  else {
    const gear = drive.channel('gear');
    const told = gear !== undefined && !gear.quality.constant;
    for (const shift of shifts) {
      if (!told && tooLong(shift, samples.held('engineSpeed'), time)) continue;
      for (let i = shift.start; i < time.length && time[i]! <= shift.to + AFTER_SHIFT; i++) mask[i] = 1;
    }
  }
  const flags = INTERVENTIONS.map((id) => samples.held(id)).filter((values) => values !== undefined);
  for (const on of flags) {
    for (let i = 0; i < on.length; i++) if (on[i]! > 0) traction[i] = 1;
  }
  const runaway = runawayWheels(samples);
  if (runaway) {
    // The slip is gone before the torque is back, and a slow log sees either a reading late.
    const lag = Math.max(SLIP_LAG, 1.5 / samples.hz('wheelSpeed.frontLeft'));
    join(traction, maskOf(widened(segmentsOf(runaway, time), time, lag), time.length));
  }
  if (!runaway && flags.length === 0) blind.push(TRACTION_BLIND);
  // What a shift covers is no tip-in alone.
  for (let i = 0; i < mask.length; i++)
    if (mask[i] === 1) tipIn[i] = 0;
    else if (tipIn[i] === 1) mask[i] = 1;
  return { mask, tipIn, traction, blind };
}

/** In a shift up the engine speed falls, in one down it rises. */
function tooLong({ from, to }: Segment, engine: Float64Array | undefined, time: Float64Array): boolean {
  const first = engine?.[firstAtOrAfter(time, from + MARGIN)] ?? Number.NaN;
  const last = engine?.[firstAtOrAfter(time, to - MARGIN)] ?? Number.NaN;
  return to - from > (last > first ? LONGEST.down : LONGEST.up) + 1e-6;
}

/**
 * One axle runs away from the other by more than tyres, their sizes and corners explain: the traction control may be at
 * work (8 %, common practice; hard pulls slip by 2 to 6 %, some by more without any intervention). Undefined when not both axles are recorded.
 */
function runawayWheels(samples: Samples): Uint8Array | undefined {
  const axle = (name: string): Float64Array[] =>
    ['Left', 'Right'].map((side) => samples.held(`wheelSpeed.${name}${side}`)).filter((values) => values !== undefined);
  const front = axle('front');
  const rear = axle('rear');
  if (front.length === 0 || rear.length === 0) return undefined;
  const mask = new Uint8Array(front[0]!.length);
  for (let i = 0; i < mask.length; i++) {
    const a = meanAt(front, i);
    const b = meanAt(rear, i);
    if (Math.abs(a - b) > 0.08 * Math.min(a, b) + 1) mask[i] = 1;
  }
  return mask;
}

function meanAt(columns: readonly Float64Array[], i: number): number {
  let total = 0;
  for (let c = 0; c < columns.length; c++) total += columns[c]![i]!;
  return total / columns.length;
}

function join(mask: Uint8Array, other: Uint8Array): void {
  for (let i = 0; i < mask.length; i++) if (other[i] === 1) mask[i] = 1;
}
