import { heldMaximum } from '../math/held-maximum.js';
import { type Swings, swings } from '../math/swings.js';
import { BOOST_PAIR, type BoostPair } from './boost-pair.js';
import { FULL_LOAD, type FullLoadPiece } from './full-load.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { THROTTLE_FULL } from './throttle-full.js';

/** A pressure that lasted, and since when. NaN = none. */
export interface Lasting {
  /** kPa */
  readonly value: number;
  readonly at: number;
}

/** How boost followed its target in one full-load stretch. Errors are actual less target, kPa. */
export interface BoostResponse {
  readonly piece: FullLoadPiece;
  /** Seconds from full pedal to 10 kPa under target, where boost had to be built up; NaN else. */
  readonly spoolTime: number;
  /** rpm at which. */
  readonly spoolSpeed: number;
  /** Seconds from there until the error stays within 10 kPa for a second; NaN when not seen. */
  readonly settling: number;
  /** Largest excess held for {@link BoostDynamics.overshootHeld}. */
  readonly overshoot: Lasting;
  /** Largest settled error to either side held for {@link STEADY_HELD} (positive numbers); of too little only where nothing limits on purpose. */
  readonly over: Lasting;
  readonly short: Lasting;
  /**
   * Largest settled shortfall of the same length for which nothing speaks but torque that meets its demand: limited on
   * purpose, or a modelled torque that knows nothing of the missing boost.
   */
  readonly excused: Lasting;
  /** Seconds of settled boost that could be judged for too little. */
  readonly judged: number;
  /** Oscillation of the error between 0.5 and 3 Hz over three cycles. */
  readonly swing: Swings;
  readonly samples: number;
  /** kPa absolute, highest target of the stretch. */
  readonly target: number;
}

export interface BoostDynamics {
  readonly pair: BoostPair;
  readonly responses: readonly BoostResponse[];
  /** Seconds that an overshoot is asked to last: 0.3, or three fresh samples of a slower log. */
  readonly overshootHeld: number;
  /** What would show that torque is limited on purpose: throttle, torque against its demand, a flag. Empty = nothing. */
  readonly limitsTold: readonly string[];
}

export const OVERSHOOT_HELD = 0.3;
export const STEADY_HELD = 1.5;
export const OSCILLATION = { low: 0.5, high: 3, cycles: 3 } as const;
/** Boost has arrived within this of its target, kPa; a target is boost from there over the barometer. */
const ARRIVED = 10;
/** Seconds after it arrived until it counts as settled; seconds of full pedal and rpm from which it should have arrived. */
const SETTLED = 1.5;
const DUE = { seconds: 3, rpm: 3000 } as const;
/** A target that moves faster than this (kPa within a second) cannot be followed at once. */
const MOVED = { down: 12, up: 15 } as const;
/** Points of throttle under its own full load that show a limit; torque this close to its demand is all that was asked. */
const CLOSED = 10;
const DELIVERED = 0.985;

export const BOOST_DYNAMICS = recipe<BoostDynamics>({
  id: 'boostDynamics',
  about:
    'Boost against its target per full-load stretch: spool time and speed, overshoot held for 0.3 s, settling, settled error held for 1.5 s, oscillation at 0.5 to 3 Hz over three cycles. Steps of the target, and too little boost where throttle or torque demand show a limit on purpose, are left out.',
  compute(drive) {
    const pair = drive.derive(BOOST_PAIR);
    if (isRefusal(pair)) return pair;
    const full = drive.derive(FULL_LOAD);
    if (isRefusal(full)) return refuse(`no boost dynamics: ${full.reason}`, full.missing);
    const { limited, told } = limitsOf(drive);
    const samples = samplesOf(drive);
    const slow = pair.channels[0].id;
    const fresh = samples.fresh(slow);
    const held = Math.max(OVERSHOOT_HELD, 2 / pair.hz - 1e-6);
    const speed = samples.held('engineSpeed');
    const arrived = new Map<number, number>();
    return {
      pair,
      overshootHeld: held,
      limitsTold: told,
      responses: full.pieces.flatMap(
        (piece) => responseOf(piece, pair, drive.time, fresh, speed, limited, held, arrived, samples.maxStep) ?? [],
      ),
    };
  },
});

/** Why less is let through on purpose: seen in throttle or flag, or only said by torque that meets its demand. */
const SEEN = 1;
const SAID = 2;

/** Where the control unit lets through less on purpose ({@link SEEN}, {@link SAID}, else 0), and what tells. */
function limitsOf(drive: Drive): { readonly limited: Uint8Array; readonly told: readonly string[] } {
  const samples = samplesOf(drive);
  const limited = new Uint8Array(drive.time.length);
  const told: string[] = [];
  const throttle = drive.derive(THROTTLE_FULL);
  if (!isRefusal(throttle)) {
    told.push(throttle.source);
    for (let i = 0; i < limited.length; i++) if (throttle.values[i]! < throttle.level - CLOSED) limited[i] = SEEN;
  }
  const [torque, wanted] = ['engineTorque', 'engineTorqueTarget'].map((id) =>
    drive.channel(id)?.quality.constant === false ? samples.held(id) : undefined,
  );
  if (torque !== undefined && wanted !== undefined) {
    told.push('engineTorqueTarget');
    for (let i = 0; i < limited.length; i++)
      if (limited[i] === 0 && wanted[i]! > 50 && torque[i]! >= DELIVERED * wanted[i]!) limited[i] = SAID;
  }
  const flag = samples.held('torqueLimiterActive');
  if (flag !== undefined) {
    told.push('torqueLimiterActive');
    for (let i = 0; i < limited.length; i++) if (flag[i]! >= 0.5) limited[i] = SEEN;
  }
  return { limited, told };
}

function responseOf(
  piece: FullLoadPiece,
  pair: BoostPair,
  time: Float64Array,
  fresh: Int32Array,
  speed: Float64Array | undefined,
  limited: Uint8Array,
  held: number,
  arrivals: Map<number, number>,
  maxStep: number,
): BoostResponse | undefined {
  const rows = rowsWithin(fresh, piece.start, piece.end);
  const n = rows.length;
  if (n < 3) return undefined;
  const t = new Float64Array(n);
  const free = new Float64Array(n).fill(Number.NaN);
  const over = new Float64Array(n).fill(Number.NaN);
  const steadyOver = new Float64Array(n).fill(Number.NaN);
  const steadyShort = new Float64Array(n).fill(Number.NaN);
  const excused = new Float64Array(n).fill(Number.NaN);
  let arrival = arrivals.get(piece.pull) ?? Number.NaN;
  const first = arrival;
  let spoolSpeed = Number.NaN;
  let began = Number.NaN;
  let judged = 0;
  let top = Number.NaN;
  let used = 0;
  for (let k = 0; k < n; k++) {
    const i = rows[k]!;
    t[k] = time[i]!;
    const target = pair.target[i]!;
    const error = pair.actual[i]! - target;
    if (!(target - pair.barometer >= ARRIVED) || Number.isNaN(error)) continue;
    used++;
    if (!(top >= target)) top = target;
    if (Number.isNaN(began)) began = error;
    if (Number.isNaN(arrival) && error >= -ARRIVED) {
      arrival = t[k]!;
      arrivals.set(piece.pull, arrival);
      spoolSpeed = speed?.[i] ?? Number.NaN;
    }
    const moved = movedWithin(pair.target, time, i, piece.start);
    const due = t[k]! - piece.began >= DUE.seconds && speed !== undefined && speed[i]! >= DUE.rpm;
    const settled = Number.isNaN(arrival) ? due : t[k]! - arrival >= SETTLED;
    if (!Number.isNaN(arrival)) free[k] = error;
    if (!Number.isNaN(arrival) && moved.down <= MOVED.down) over[k] = error;
    if (!settled) continue;
    if (moved.down <= MOVED.down) steadyOver[k] = error;
    if (moved.up > MOVED.up) continue;
    if (limited[i] !== 0 && error < -ARRIVED) {
      if (limited[i] === SAID) excused[k] = -error;
      continue;
    }
    // All that was asked for may be delivered at the target as well: a limit only explains what is missing.
    steadyShort[k] = -error;
    if (k > 0) judged += Math.min(t[k]! - t[k - 1]!, maxStep);
  }
  if (used < 3) return undefined;
  const lasting = (values: Float64Array, seconds: number): Lasting => {
    const found = heldMaximum(values, t, seconds, maxStep);
    return { value: found.value, at: found.index < 0 ? Number.NaN : t[found.index]! };
  };
  const built = Number.isNaN(first) && began < -2 * ARRIVED && !Number.isNaN(arrival);
  return {
    piece,
    spoolTime: built ? arrival - piece.began : Number.NaN,
    spoolSpeed: built ? spoolSpeed : Number.NaN,
    settling: built ? settlingOf(free, t, arrival) : Number.NaN,
    overshoot: lasting(over, held),
    over: lasting(steadyOver, STEADY_HELD),
    short: lasting(steadyShort, STEADY_HELD),
    excused: lasting(excused, STEADY_HELD),
    judged,
    swing: swings(free, t, OSCILLATION.cycles, OSCILLATION.low, OSCILLATION.high, 4 * pair.u),
    samples: used,
    target: top,
  };
}

/** Rows of an ascending list between two rows, inclusive. */
function rowsWithin(rows: Int32Array, start: number, end: number): Int32Array {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle]! < start) low = middle + 1;
    else high = middle;
  }
  let stop = low;
  while (stop < rows.length && rows[stop]! <= end) stop++;
  return rows.subarray(low, stop);
}

/** kPa by which the target fell below and rose above where it stood within the last second. */
function movedWithin(
  target: Float64Array,
  time: Float64Array,
  row: number,
  start: number,
): { readonly down: number; readonly up: number } {
  let down = 0;
  let up = 0;
  for (let k = row - 1; k >= start && time[row]! - time[k]! <= 1; k--) {
    const step = target[row]! - target[k]!;
    if (step > up) up = step;
    if (-step > down) down = -step;
  }
  return { down, up };
}

/** Seconds after the arrival from which the error stays within 10 kPa for a second. */
function settlingOf(error: Float64Array, time: Float64Array, arrival: number): number {
  let since = Number.NaN;
  for (let k = 0; k < error.length; k++) {
    if (Number.isNaN(error[k]!) || Math.abs(error[k]!) > ARRIVED) since = Number.NaN;
    else if (Number.isNaN(since)) since = time[k]!;
    if (time[k]! - since >= 1) return since - arrival;
  }
  return Number.NaN;
}
