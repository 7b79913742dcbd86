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
    const ratios = new Float64Array(front.values.length);
    let count = 0;
    for (let i = 0; i < front.values.length; i++) {
      if (mask?.[i] === 1 || !(front.values[i]! >= 30) || !(rear.values[i]! >= 30)) continue;
      ratios[count++] = rear.values[i]! / front.values[i]!;
    }
    const ratio = count >= 20 ? middleOf(ratios.subarray(0, count)) : 1;
    const samples = samplesOf(drive);
    const channels = [...front.channels, ...rear.channels];
    return {
      front: front.values,
      rear: rear.values.map((x) => x / ratio),
      ratio,
      fresh: samples.fresh(channels[0]!),
      hz: Math.min(...channels.map((id) => samples.hz(id))),
      quantum: Math.max(...channels.map((id) => drive.channel(id)!.quality.quantum)),
      channels,
    };
  },
});

function axleOf(
  drive: Drive,
  axle: 'front' | 'rear',
): { values: Float64Array; channels: readonly string[] } | undefined {
  const samples = samplesOf(drive);
  const [l, r] = AXLE_WHEELS[axle];
  const left = samples.held(l);
  const right = samples.held(r);
  if (left !== undefined && right !== undefined)
    return { values: left.map((x, i) => (x + right[i]!) / 2), channels: [l, r] };
  const whole = samples.held(`axleSpeed.${axle}`);
  return whole === undefined ? undefined : { values: whole, channels: [`axleSpeed.${axle}`] };
}
