import { quantile } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { type Drive, recipe, refuse } from './recipe.js';
import { freshIndices, freshRate } from './refresh.js';
import { type Samples, samplesOf } from './samples.js';

export interface Speed {
  /** km/h, held over empty cells; NaN = no sample. */
  readonly values: Float64Array;
  /** `wheelSpeed` or the id of the channel it is. */
  readonly source: string;
  /** True when no wheel that the engine drives is in it: wheelspin does not show. */
  readonly undriven: boolean;
  /** Rows of fresh values. */
  readonly fresh: Int32Array;
  /** Fresh values per second. */
  readonly hz: number;
  /** Smallest step, km/h. */
  readonly quantum: number;
  /** Below this the car stands (km/h): 1, for satellite positions 2 because they wander at rest. */
  readonly standing: number;
}

const FRONT = ['wheelSpeed.frontLeft', 'wheelSpeed.frontRight'] as const;
const REAR = ['wheelSpeed.rearLeft', 'wheelSpeed.rearRight'] as const;

export const SPEED = recipe<Speed>({
  id: 'speed',
  about:
    'Road speed (km/h): mean of the undriven wheels where the profile names the driven axle, else the middle of the four wheels, else vehicleSpeed, else satellite speed.',
  compute(drive) {
    const samples = samplesOf(drive);
    const { driven } = drive.vehicle.driveline;
    const undriven = driven === 'front' ? REAR : driven === 'rear' ? FRONT : undefined;
    if (undriven !== undefined) {
      const speed = ofWheels(drive, samples, undriven, true);
      if (speed !== undefined) return speed;
    }
    const wheels = ofWheels(drive, samples, [...FRONT, ...REAR], false);
    if (wheels !== undefined) return wheels;
    const axle = driven === 'front' ? 'axleSpeed.rear' : driven === 'rear' ? 'axleSpeed.front' : undefined;
    if (axle !== undefined) {
      const speed = ofWheels(drive, samples, [axle], true);
      if (speed !== undefined) return speed;
    }
    for (const id of ['vehicleSpeed', 'gpsSpeed']) {
      const channel = drive.channel(id);
      const values = samples.held(id);
      if (channel === undefined || values === undefined || channel.quality.samples < 2) continue;
      return {
        values,
        source: id,
        undriven: id === 'gpsSpeed',
        ...refreshOf(drive, samples, channel),
        quantum: channel.quality.quantum,
        standing: id === 'gpsSpeed' ? 2 : 1,
      };
    }
    return refuse('no speed, because vehicleSpeed is absent', { channels: ['vehicleSpeed'] });
  },
});

/** Middle of the given wheels, row by row: of two their mean, of four the mean of the two inner ones (one lying sensor does no harm). */
function ofWheels(drive: Drive, samples: Samples, ids: readonly string[], undriven: boolean): Speed | undefined {
  const columns: Float64Array[] = [];
  let quantum = 0;
  for (const id of ids) {
    const channel = drive.channel(id);
    const values = samples.held(id);
    // A wheel that never moves is a dead sensor, unless the car never moved; then vehicleSpeed says so.
    if (channel === undefined || values === undefined || channel.quality.constant) return undefined;
    columns.push(values);
    quantum = Math.max(quantum, channel.quality.quantum);
  }
  const middle = new Float64Array(drive.time.length);
  const [a, b, c, d] = columns;
  if (a && b && c && d) middleOfFour(a, b, c, d, middle);
  else meanOf(columns, middle);
  const first = drive.channel(ids[0]!)!;
  return {
    values: middle,
    source: 'wheelSpeed',
    undriven,
    ...refreshOf(drive, samples, first),
    quantum,
    standing: 1,
  };
}

function meanOf(columns: readonly Float64Array[], mean: Float64Array): void {
  for (const column of columns) for (let i = 0; i < mean.length; i++) mean[i] = mean[i]! + column[i]!;
  for (let i = 0; i < mean.length; i++) mean[i] = mean[i]! / columns.length;
}

/** Mean of the two inner ones of four columns, row by row. */
function middleOfFour(a: Float64Array, b: Float64Array, c: Float64Array, d: Float64Array, middle: Float64Array): void {
  for (let i = 0; i < middle.length; i++) {
    const low = Math.min(a[i]!, b[i]!, c[i]!, d[i]!);
    const high = Math.max(a[i]!, b[i]!, c[i]!, d[i]!);
    middle[i] = (a[i]! + b[i]! + c[i]! + d[i]! - low - high) / 2;
  }
}

/**
 * Rate and fresh rows of a speed. Where the channel does not tell its rate (one step at a time), the spacing of its
 * changes bounds it: no two changes closer than 0.2 s in a whole drive mean 5 Hz at most, or a quantum that hides the
 * rest. Never below 1 Hz: slow driving is no slow logger.
 */
function refreshOf(
  drive: Drive,
  samples: Samples,
  channel: Channel,
): { readonly fresh: Int32Array; readonly hz: number } {
  const hz = samples.hz(channel.id);
  if (freshRate(channel).certain) return { fresh: samples.fresh(channel.id), hz };
  const changes = freshIndices(channel.values, drive.time);
  if (changes.length < 20) return { fresh: samples.fresh(channel.id), hz };
  const gaps: number[] = [];
  for (let k = 1; k < changes.length; k++) gaps.push(drive.time[changes[k]!]! - drive.time[changes[k - 1]!]!);
  const bound = Math.max(1, 1 / quantile(gaps, 0.05));
  if (!(bound < 0.8 * hz)) return { fresh: samples.fresh(channel.id), hz };
  return { fresh: freshIndices(channel.values, drive.time, bound), hz: bound };
}
