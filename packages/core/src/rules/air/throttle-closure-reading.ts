import { uncertaintyOf } from '../../derived/exceeds.js';
import { FULL_LOAD, type FullLoadPiece } from '../../derived/full-load.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { type Drive, isRefusal, type Refusal } from '../../derived/recipe.js';
import { SAMPLES, type Samples } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { FLOOR, THROTTLE_FULL } from '../../derived/throttle-full.js';
import { heldMaximum } from '../../math/held-maximum.js';
import type { Channel } from '../../recording/recording.js';

export const HELD = 0.3;
/** Seconds that the pedal lies on the floor before the throttle has to be open. */
const OPENING = 1;
/** Torque is limited on purpose in the gears below this; without a gear, below this speed (km/h). */
export const GEAR_FROM = 3;
const SPEED_FROM = 80;
/** Where nothing shows the traction control: above this speed (km/h) it does not close the throttle again and again. */
const GRIP_FROM = 100;
const OIL_FROM = 60;
/** The limiter of engine speed: this close (rpm) to it, or this share of the highest speed seen. */
const NEAR_LIMIT = 250;
const SEEN_LIMIT = 0.97;

export interface Closure {
  readonly pull: number;
  readonly from: number;
  readonly to: number;
  /** Points below the throttle's own full-load reading, held for {@link HELD}. */
  readonly points: number;
  readonly rpm: number;
  /** What seems to hold it back, most telling first; empty = nothing recorded tells. */
  readonly limiters: readonly string[];
}

export interface ClosureReading {
  /** The deepest closure of each stretch that could be judged; small ones too. */
  readonly closures: readonly Closure[];
  readonly pulls: number;
  /** Seconds that could be judged. */
  readonly judged: number;
  readonly level: number;
  readonly u: number;
  readonly hz: number;
  readonly blind: boolean;
  readonly channel: Channel;
}

type Reads = Pick<Drive, 'time' | 'derive' | 'vehicle'> & {
  readonly optional: (id: 'throttlePosition' | 'throttlePositionRelative' | 'throttleAngle') => Channel | undefined;
  readonly family: (base: 'throttlePosition' | 'throttlePositionRelative' | 'throttleAngle') => readonly Channel[];
};

export function readClosures(view: Reads): ClosureReading | Refusal {
  const throttle = view.derive(THROTTLE_FULL);
  if (isRefusal(throttle)) return throttle;
  const full = view.derive(FULL_LOAD);
  if (isRefusal(full)) return full;
  const pedal = view.derive(PEDAL_RELATIVE);
  if (isRefusal(pedal)) return pedal;
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const speed = view.derive(SPEED);
  const { time } = view;
  const channel = (['throttlePosition', 'throttlePositionRelative', 'throttleAngle'] as const)
    .flatMap((base) => view.family(base))
    .find(({ id }) => id === throttle.source)!;
  const engine = samples.held('engineSpeed');
  const oil = samples.held('engineOilTemperature') ?? samples.held('coolantTemperature');
  const fastest = highest(engine);
  const limit = view.vehicle.engine.revLimit;
  const stop = Math.min(limit === undefined ? Number.POSITIVE_INFINITY : limit - NEAR_LIMIT, SEEN_LIMIT * fastest);
  const hz = samples.hz(channel.id);
  const fresh = samples.fresh(channel.id);
  const closures: Closure[] = [];
  const seen = new Set<number>();
  let judged = 0;
  let k = 0;
  for (const piece of full.pieces) {
    if (piece.gear < GEAR_FROM) continue;
    while (k < fresh.length && fresh[k]! < piece.start) k++;
    const rows: number[] = [];
    for (let j = k; j < fresh.length && fresh[j]! <= piece.end; j++) rows.push(fresh[j]!);
    const t = new Float64Array(rows.length);
    const points = new Float64Array(rows.length).fill(Number.NaN);
    let since = Number.NaN;
    let before = Number.NaN;
    for (let j = 0; j < rows.length; j++) {
      const i = rows[j]!;
      t[j] = time[i]!;
      if (!(pedal.values[i]! >= FLOOR)) {
        since = Number.NaN;
        continue;
      }
      if (Number.isNaN(since)) since = t[j]!;
      const v = isRefusal(speed) ? Number.NaN : speed.values[i]!;
      const known = piece.gear >= GEAR_FROM || v >= SPEED_FROM;
      const gripped = !full.blind || v >= GRIP_FROM;
      const warm = oil === undefined || !(oil[i]! < OIL_FROM);
      if (t[j]! - since < OPENING || !known || !gripped || !warm || engine === undefined || !(engine[i]! < stop))
        continue;
      points[j] = throttle.level - throttle.values[i]!;
      judged += Number.isNaN(before) ? 0 : Math.min(t[j]! - before, samples.maxStep);
      before = t[j]!;
    }
    const held = heldMaximum(points, t, Math.max(HELD, 2 / hz - 1e-6), samples.maxStep);
    if (held.index < 0) continue;
    seen.add(piece.pull);
    const [from, to] = around(points, held.index, 0.7 * held.value);
    closures.push({
      pull: piece.pull,
      from: t[from]!,
      to: t[to]!,
      points: held.value,
      rpm: engine?.[rows[held.index]!] ?? Number.NaN,
      limiters: limitersOf(view, samples, piece, rows[from]!, rows[to]!),
    });
  }
  return {
    closures,
    pulls: seen.size,
    judged,
    level: throttle.level,
    u: uncertaintyOf(channel, { noise: 0.3 }),
    hz,
    blind: full.blind,
    channel,
  };
}

/** Ends of the run about an index in which values stay at least so high. */
function around(values: Float64Array, index: number, least: number): readonly [number, number] {
  let from = index;
  let to = index;
  while (from > 0 && values[from - 1]! >= least) from--;
  while (to + 1 < values.length && values[to + 1]! >= least) to++;
  return [from, to];
}

function highest(values: Float64Array | undefined): number {
  let top = Number.NEGATIVE_INFINITY;
  if (values !== undefined) for (let i = 0; i < values.length; i++) if (values[i]! > top) top = values[i]!;
  return top;
}

/** What else moves while the throttle is shut. Limits common practice, no source. */
function limitersOf(view: Reads, samples: Samples, piece: FullLoadPiece, start: number, end: number): string[] {
  const top = (id: string): number => highest(samples.held(id)?.subarray(Math.max(piece.start, start - 2), end + 1));
  const found: string[] = [];
  if (top('limpMode') >= 0.5) found.push('the emergency mode is active');
  if (top('torqueLimiterActive') >= 0.5) found.push('a torque limiter is reported as active');
  const wanted = samples.held('engineTorqueTarget');
  if (wanted !== undefined) {
    const before = wanted[Math.max(piece.start, start - Math.round(0.5 / samples.spacing))]!;
    const during = wanted[(start + end) >> 1]!;
    if (during < 0.93 * before) found.push('the demanded torque is taken back with it: a torque limit');
  }
  const boost = samples.held('boostPressure');
  const target = samples.held('boostPressureTarget');
  if (boost !== undefined && target !== undefined) {
    const first = Math.max(piece.start, start - Math.round(1 / samples.spacing));
    for (let i = first; i <= end; i++)
      if (boost[i]! > target[i]! + 15) {
        found.push('boost stands over its target: overboost is held back');
        break;
      }
  }
  if (top('knockRetard') >= 4) found.push('ignition is retarded for knock');
  if (top('coolantTemperature') >= 112 || top('chargeAirTemperature') >= 75)
    found.push('coolant or charge air is hot: temperature protection');
  const speed = view.derive(SPEED);
  if (!isRefusal(speed) && highest(speed.values.subarray(start, end + 1)) >= 240)
    found.push('top speed: speed limiter');
  return found;
}
