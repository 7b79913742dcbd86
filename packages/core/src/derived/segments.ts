import { median } from '../math/quantile.js';
import { ACCELERATION } from './acceleration.js';
import { CLOSED_LOOP } from './closed-loop.js';
import { FUEL_CUT, OVERRUN_MASK } from './fuel-cut.js';
import { type Segment, segmentsOf, widened } from './intervals.js';
import { LOAD_FRACTION } from './load-fraction.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { PEDAL_RELEASED } from './pedal-released.js';
import { type Drive, isRefusal, type Recipe, type Refusal, recipe, refuse } from './recipe.js';
import { samplesOf, stretches } from './samples.js';
import { SPEED, type Speed } from './speed.js';
import { runningOrAll } from './warm.js';

export type { Segment } from './intervals.js';

export const STANDSTILL = recipe<readonly Segment[]>({
  id: 'standstill',
  about: 'Car at rest: speed < 1 km/h.',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no standstill: ${speed.reason}`, speed.missing);
    const mask = new Uint8Array(speed.values.length);
    for (let i = 0; i < mask.length; i++) if (speed.values[i]! < speed.standing) mask[i] = 1;
    return stretches(drive, mask);
  },
});

export const IDLE = recipe<readonly Segment[]>({
  id: 'idle',
  about:
    'Idle: standstill, engine running, accelerator released (without a pedal channel: throttle at rest, calculated load low, or engine speed at its usual level).',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no idle: ${speed.reason}`, speed.missing);
    const released = drive.derive(PEDAL_RELEASED);
    const quiet = isRefusal(released) ? lowSpeed(drive, speed) : released.mask;
    if (quiet === undefined) return isRefusal(released) ? refuse(`no idle: ${released.reason}`, released.missing) : [];
    const running = runningOrAll(drive);
    const mask = new Uint8Array(speed.values.length);
    for (let i = 0; i < mask.length; i++) {
      if (speed.values[i]! < speed.standing && quiet[i] === 1 && running[i] === 1) mask[i] = 1;
    }
    return stretches(drive, mask);
  },
});

/**
 * With nothing that shows the pedal: at standstill nobody presses it while the engine turns no faster than a fifth
 * above its usual speed there and below 1100 rpm (common practice; a cold, fast idle is left out).
 */
function lowSpeed(drive: Drive, speed: Speed): Uint8Array | undefined {
  const engine = samplesOf(drive).held('engineSpeed');
  if (engine === undefined) return undefined;
  const standing = new Float64Array(engine.length);
  let count = 0;
  for (let i = 0; i < engine.length; i++) {
    if (speed.values[i]! < speed.standing && engine[i]! >= 300) standing[count++] = engine[i]!;
  }
  const limit = Math.min(1100, 1.2 * median(standing.subarray(0, count)));
  const mask = new Uint8Array(engine.length);
  for (let i = 0; i < engine.length; i++) if (engine[i]! <= limit) mask[i] = 1;
  return mask;
}

export const CRUISE = recipe<readonly Segment[]>({
  id: 'cruise',
  about: 'Cruise: >= 20 km/h, load fraction < 0.4, no overrun, no fuel cut.',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no cruise: ${speed.reason}`, speed.missing);
    const load = drive.derive(LOAD_FRACTION);
    if (isRefusal(load)) return refuse(`no cruise: ${load.reason}`, load.missing);
    const overrun = drive.derive(OVERRUN_MASK);
    const cut = drive.derive(FUEL_CUT);
    const mask = new Uint8Array(speed.values.length);
    for (let i = 0; i < mask.length; i++) {
      if (!(speed.values[i]! >= 20) || load.cruiseLow[i] === 0) continue;
      if (!isRefusal(overrun) && overrun[i] === 1) continue;
      if (!isRefusal(cut) && cut.mask[i] === 1) continue;
      mask[i] = 1;
    }
    return stretches(drive, mask);
  },
});

export const LOAD = recipe<readonly Segment[]>({
  id: 'load',
  about: 'Under load: load fraction >= 0.4 in closed loop (by calculated load: >= 60 % at >= 2000 rpm).',
  compute(drive) {
    const load = drive.derive(LOAD_FRACTION);
    if (isRefusal(load)) return refuse(`no load: ${load.reason}`, load.missing);
    const loop = drive.derive(CLOSED_LOOP);
    if (isRefusal(loop)) return refuse(`no load: ${loop.reason}`, loop.missing);
    const mask = new Uint8Array(load.loaded.length);
    for (let i = 0; i < mask.length; i++) mask[i] = load.loaded[i]! & loop.mask[i]!;
    return stretches(drive, mask);
  },
});

export const PULLS = recipe<readonly Segment[]>({
  id: 'pulls',
  about: 'Pull: relative pedal >= 80 % for >= 2 s with the car moving and the engine running.',
  compute(drive) {
    const pedal = drive.derive(PEDAL_RELATIVE);
    if (isRefusal(pedal)) return refuse(`no pull: ${pedal.reason}`, pedal.missing);
    const speed = drive.derive(SPEED);
    const running = runningOrAll(drive);
    const mask = new Uint8Array(pedal.values.length);
    for (let i = 0; i < mask.length; i++) {
      if (!(pedal.values[i]! >= 80) || running[i] === 0) continue;
      // Held against the brake is no pull; without a speed it cannot be told apart and counts.
      if (!isRefusal(speed) && speed.values[i]! < speed.standing) continue;
      mask[i] = 1;
    }
    const found = stretches(drive, mask, { minDuration: 2, maxGap: 0.3 });
    if (found.length === 0 && !pedal.fullSeen) {
      return refuse(`no pull to be told: ${pedal.source} never reached its end of travel`, {
        conditions: ['accelerator pressed to the floor once'],
      });
    }
    return found;
  },
});

export const OVERRUN = recipe<readonly Segment[]>({
  id: 'overrun',
  about: 'Overrun: pedal released, >= 10 km/h, engine speed >= 1100 rpm, for >= 0.5 s.',
  compute(drive) {
    const mask = drive.derive(OVERRUN_MASK);
    return isRefusal(mask) ? mask : stretches(drive, mask, { minDuration: 0.5 });
  },
});

/**
 * Deceleration at which the brake must be in use: engine braking and drag stay below 1.5 m/s2 (common practice). A
 * brake switch is not asked: it is on at every halt, and tells of no deceleration.
 */
const BRAKING_FROM = -1.5;

export const BRAKING = recipe<readonly Segment[]>({
  id: 'braking',
  about: 'Braking: deceleration beyond 1.5 m/s2 for >= 0.5 s.',
  compute(drive) {
    const acceleration = drive.derive(ACCELERATION);
    if (isRefusal(acceleration)) return refuse(`no braking: ${acceleration.reason}`, acceleration.missing);
    const mask = new Uint8Array(acceleration.values.length);
    for (let i = 0; i < mask.length; i++) if (acceleration.values[i]! <= BRAKING_FROM) mask[i] = 1;
    return stretches(drive, mask, { minDuration: 0.5, maxGap: 0.3 });
  },
});

export type SegmentKind = 'standstill' | 'idle' | 'cruise' | 'load' | 'pull' | 'overrun' | 'braking';

const KINDS: Readonly<Record<SegmentKind, Recipe<readonly Segment[]>>> = Object.freeze({
  standstill: STANDSTILL,
  idle: IDLE,
  cruise: CRUISE,
  load: LOAD,
  pull: PULLS,
  overrun: OVERRUN,
  braking: BRAKING,
});

/** The recipe of one kind of segment. */
export function segmentsOfKind(kind: SegmentKind): Recipe<readonly Segment[]> {
  return KINDS[kind];
}

export const SEGMENTS = recipe<Readonly<Record<SegmentKind, readonly Segment[] | Refusal>>>({
  id: 'segments',
  about: 'All kinds of driving segments of a recording, each told or refused with its reason.',
  compute(drive) {
    return {
      standstill: drive.derive(STANDSTILL),
      idle: drive.derive(IDLE),
      cruise: drive.derive(CRUISE),
      load: drive.derive(LOAD),
      pull: drive.derive(PULLS),
      overrun: drive.derive(OVERRUN),
      braking: drive.derive(BRAKING),
    };
  },
});

/** Segments less every row within `seconds` of the given ones: e.g. cruise without shifts. */
export function apart(
  segments: readonly Segment[],
  others: readonly Segment[],
  time: Float64Array,
  seconds: number,
): Segment[] {
  const mask = new Uint8Array(time.length);
  for (const { start, end } of segments) mask.fill(1, start, end + 1);
  for (const { start, end } of widened(others, time, seconds)) mask.fill(0, start, end + 1);
  return segmentsOf(mask, time);
}
