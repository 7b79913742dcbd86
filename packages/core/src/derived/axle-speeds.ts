import { middleOf } from '../math/evenly.js';
import { maskOf } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { BRAKING } from './segments.js';

export interface AxleSpeeds {
  /** km/h, mean of both wheels; the rear set to the front's rolling circumference. */
  readonly front: Float64Array;
  readonly rear: Float64Array;
  /** Rear over front as recorded, median of steady straight driving. */
  readonly ratio: number;
  /** Rows of fresh values, values per second, step (km/h). */
  readonly fresh: Int32Array;
  readonly hz: number;
  readonly quantum: number;
  readonly channels: readonly string[];
}

/** Left and right wheel of each axle. */
export const AXLE_WHEELS = {
  front: ['wheelSpeed.frontLeft', 'wheelSpeed.frontRight'],
  rear: ['wheelSpeed.rearLeft', 'wheelSpeed.rearRight'],
} as const;

export const AXLE_SPEEDS = recipe<AxleSpeeds>({
  id: 'axleSpeeds',
  about:
    'Speeds of front and rear axle (km/h), mean of their wheels or as recorded; different tyres are taken out by the median of rear / front above 30 km/h without braking.',
  compute(drive) {
    const front = axleOf(drive, 'front');
    const rear = axleOf(drive, 'rear');
    if (front === undefined || rear === undefined)
      return refuse('no axle speeds, because the speeds of all four wheels are not recorded', {
        channels: ['wheelSpeed'],
      });
    const braking = drive.derive(BRAKING);
    const mask = isRefusal(braking) ? undefined : maskOf(braking, drive.time.length);
    const ratios = ratiosOf(front.values, rear.values, mask);
    const ratio = ratios.length >= 20 ? middleOf(ratios) : 1;
    const samples = samplesOf(drive);
    const channels = [...front.channels, ...rear.channels];
    return {
      front: front.values,
      rear: divided(rear.values, ratio),
      ratio,
      fresh: samples.fresh(channels[0]!),
      hz: Math.min(...channels.map((id) => samples.hz(id))),
      quantum: Math.max(...channels.map((id) => drive.channel(id)!.quality.quantum)),
      channels,
    };
  },
});

/** Rear over front in rows without braking in which both run at 30 km/h and more. */
function ratiosOf(front: Float64Array, rear: Float64Array, braking: Uint8Array | undefined): Float64Array {
  const ratios = new Float64Array(front.length);
  let count = 0;
  for (let i = 0; i < front.length; i++) {
    if (!(front[i]! >= 30) || !(rear[i]! >= 30) || braking?.[i] === 1) continue;
    ratios[count++] = rear[i]! / front[i]!;
  }
  return ratios.subarray(0, count);
}

// Indexed loops: mapping a typed array with a function takes some ten times as long.

function divided(values: Float64Array, by: number): Float64Array {
  const found = new Float64Array(values.length);
  for (let i = 0; i < found.length; i++) found[i] = values[i]! / by;
  return found;
}

function meanOf(left: Float64Array, right: Float64Array): Float64Array {
  const found = new Float64Array(left.length);
  for (let i = 0; i < found.length; i++) found[i] = (left[i]! + right[i]!) / 2;
  return found;
}

function axleOf(
  drive: Drive,
  axle: 'front' | 'rear',
): { values: Float64Array; channels: readonly string[] } | undefined {
  const samples = samplesOf(drive);
  const [l, r] = AXLE_WHEELS[axle];
  const left = samples.held(l);
  const right = samples.held(r);
  if (left !== undefined && right !== undefined) return { values: meanOf(left, right), channels: [l, r] };
  const whole = samples.held(`axleSpeed.${axle}`);
  return whole === undefined ? undefined : { values: whole, channels: [`axleSpeed.${axle}`] };
}
