import { middleOf } from '../math/evenly.js';
import { maskOf } from './intervals.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { BRAKING } from './segments.js';
import { SPEED } from './speed.js';

export interface Straight {
  /** 1 where the car rolls straight ahead, unbraked. */
  readonly mask: Uint8Array;
  /** Curvature of the path row by row, positive to one side, in a unit of its own: what is left of bends can be taken out by it. */
  readonly turn: Float64Array;
  /** What shows that it is straight. */
  readonly source: string;
}

/** Turning slower than this is straight, deg/s: a radius of 640 m at 100 km/h, where axles run apart by < 0.01 %. */
const YAW = 2.5;
/** Steering within this of its usual middle, deg at the wheel. */
const STEERING = 10;
/** Without both: left and right wheels within this of their usual ratio. */
const WHEELS = 0.006;

export const STRAIGHT = recipe<Straight>({
  id: 'straight',
  about:
    'Straight driving at >= 20 km/h without brakes: yaw rate < 2.5 deg/s about its rest, else steering within 10 deg of its usual middle, else left and right wheels within 0.6 % of their usual ratio.',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no straight driving: ${speed.reason}`, speed.missing);
    const samples = samplesOf(drive);
    const braking = drive.derive(BRAKING);
    const braked = isRefusal(braking) ? undefined : maskOf(braking, drive.time.length);
    const from = (deviation: Float64Array, limit: number, source: string): Straight => ({
      mask: straightRows(deviation, limit, speed.values, braked),
      turn: turnOf(deviation, speed.values, source === 'yawRate'),
      source,
    });
    const moving = (values: Float64Array): number => middleOf(fastRows(values, speed.values));
    const yaw = samples.held('yawRate');
    if (yaw !== undefined && !drive.channel('yawRate')!.quality.constant) {
      return from(lessRest(yaw, moving(yaw)), YAW, 'yawRate');
    }
    const steering = samples.held('steeringAngle');
    if (steering !== undefined && !drive.channel('steeringAngle')!.quality.constant) {
      return from(lessRest(steering, moving(steering)), STEERING, 'steeringAngle');
    }
    const left = samples.held('wheelSpeed.frontLeft') ?? samples.held('wheelSpeed.rearLeft');
    const right = samples.held('wheelSpeed.frontRight') ?? samples.held('wheelSpeed.rearRight');
    if (left === undefined || right === undefined)
      return refuse('no straight driving, because neither yaw rate nor steering angle nor wheel speeds are recorded', {
        channels: ['yawRate'],
      });
    const ratio = new Float64Array(left.length);
    for (let i = 0; i < ratio.length; i++) ratio[i] = left[i]! / right[i]!;
    const rest = moving(ratio);
    for (let i = 0; i < ratio.length; i++) ratio[i] = ratio[i]! / rest - 1;
    return from(ratio, WHEELS, 'wheelSpeed');
  },
});

function lessRest(values: Float64Array, rest: number): Float64Array {
  const found = new Float64Array(values.length);
  for (let i = 0; i < found.length; i++) found[i] = values[i]! - rest;
  return found;
}

/** Values of rows at 40 km/h and more. */
function fastRows(values: Float64Array, speed: Float64Array): Float64Array {
  const kept = new Float64Array(values.length);
  let count = 0;
  for (let i = 0; i < values.length; i++) if (speed[i]! >= 40) kept[count++] = values[i]!;
  return kept.subarray(0, count);
}

function straightRows(
  deviation: Float64Array,
  limit: number,
  speed: Float64Array,
  braked: Uint8Array | undefined,
): Uint8Array {
  const mask = new Uint8Array(deviation.length);
  for (let i = 0; i < mask.length; i++)
    if (Math.abs(deviation[i]!) <= limit && speed[i]! >= 20 && braked?.[i] !== 1) mask[i] = 1;
  return mask;
}

/** NaN below 5 km/h, where no bend tells. @param rate true when the deviation turns with the speed as well */
function turnOf(deviation: Float64Array, speed: Float64Array, rate: boolean): Float64Array {
  const turn = new Float64Array(deviation.length).fill(Number.NaN);
  for (let i = 0; i < turn.length; i++) if (speed[i]! > 5) turn[i] = rate ? deviation[i]! / speed[i]! : deviation[i]!;
  return turn;
}
