import { AXLE_WHEELS } from './axle-speeds.js';
import { type Drive, isRefusal, recipe } from './recipe.js';
import { type Samples, samplesOf } from './samples.js';
import { SPEED, type Speed } from './speed.js';

export interface DrivenSpeed extends Pick<Speed, 'values' | 'fresh' | 'hz' | 'quantum' | 'source'> {
  /** True when the gearbox is geared to just these wheels: neither tyre slip nor a tight bend is in the ratio. */
  readonly geared: boolean;
  /** In words. */
  readonly words: string;
  /** First channel read. */
  readonly channel: string;
}

export const DRIVEN_SPEED = recipe<DrivenSpeed>({
  id: 'drivenSpeed',
  about:
    'Speed that the gearbox is geared to (km/h): mean of the driven wheels, or the driven axle, where the profile names it; else the road speed.',
  compute(drive) {
    const { driven } = drive.vehicle.driveline;
    if (driven === 'front' || driven === 'rear') {
      const found = ofAxle(drive, samplesOf(drive), driven);
      if (found !== undefined) return found;
    }
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return speed;
    const { values, fresh, hz, quantum, source } = speed;
    const wheels = source === 'wheelSpeed';
    // A differential turns with the mean of its wheels: with all of them driven that is the middle of the four.
    return {
      values,
      fresh,
      hz,
      quantum,
      source,
      geared: wheels && driven === 'all',
      words: wheels ? 'the wheels' : 'road speed',
      channel: wheels ? 'wheelSpeed.frontLeft' : source,
    };
  },
});

function ofAxle(drive: Drive, samples: Samples, axle: 'front' | 'rear'): DrivenSpeed | undefined {
  const whole = `axleSpeed.${axle}`;
  for (const ids of [AXLE_WHEELS[axle], [whole]]) {
    if (!ids.every((id) => usable(drive, id))) continue;
    const columns = ids.map((id) => samples.held(id)!);
    const [first, second] = columns;
    const values = new Float64Array(drive.time.length);
    for (let i = 0; i < values.length; i++)
      values[i] = second === undefined ? first![i]! : (first![i]! + second[i]!) / 2;
    return {
      values,
      source: ids.length === 2 ? 'wheelSpeed' : whole,
      fresh: samples.fresh(ids[0]!),
      hz: Math.min(...ids.map((id) => samples.hz(id))),
      quantum: Math.max(...ids.map((id) => drive.channel(id)!.quality.quantum)),
      geared: true,
      words: `the driven (${axle}) ${ids.length === 2 ? 'wheels' : 'axle'}`,
      channel: ids[0]!,
    };
  }
  return undefined;
}

function usable(drive: Drive, id: string): boolean {
  const channel = drive.channel(id);
  return channel !== undefined && channel.quality.samples >= 10 && !channel.quality.constant;
}
