import type { Samples } from '../../derived/samples.js';
import type { Channel } from '../../recording/recording.js';

/** A change of a state that no car can make in the time of one step. */
export interface Leap {
  readonly channel: string;
  readonly unit: string;
  /** Seconds of recording time: last sample before, first one after. */
  readonly from: number;
  readonly to: number;
  readonly before: number;
  readonly after: number;
  /** Size over what the step allows, > 1. */
  readonly times: number;
}

/** Leaps of several channels at one place. */
export interface Seam {
  readonly from: number;
  readonly to: number;
  readonly leaps: readonly Leap[];
}

/**
 * What a state may change at once (sensor, filter, quantum) and per second, in the channel's unit. Common practice, no
 * source: twice and more of what thermostats, heat soak and brakes do.
 */
const SLOW: Readonly<Record<string, readonly [atOnce: number, perSecond: number]>> = {
  coolantTemperature: [6, 1],
  engineOilTemperature: [5, 0.7],
  transmissionOilTemperature: [5, 0.7],
  ambientTemperature: [4, 0.3],
  barometricPressure: [1.6, 0.1],
  fuelLevel: [15, 1],
};
/**
 * km/h at once and per second (15 m/s2); to and from standstill a lost sensor does the same, so only on the move. A held
 * value is no sample here: after a lost link everything goes on from where the car is by then.
 */
const SPEEDS: readonly string[] = ['vehicleSpeed', 'gpsSpeed', 'wheelSpeed'];
const SPEED: readonly [number, number] = [10, 54];
const MOVES = 6;
/** A leap of the road speed of so many times what is possible is a seam without a second witness. */
const ALONE = 2.5;
/** A leap counts when the value stays on the new side for so many fresh samples. */
const STAYS = 3;
/** Leaps that lie this close together (s) belong to one seam: slow channels are asked one after the other. */
const TOGETHER = 4;
/** Longest step (s) over which speeds are compared. */
const SPEED_STEP = 1.1;

/**
 * NaN is no sample. Time (s) up to which the file tells anything new, row by row: the last row at which any of the channels
 * changed. A logger that lost its link writes the last values on and on, and the car warms up meanwhile.
 */
export function toldUpTo(channels: readonly Channel[], time: Float64Array): Float64Array {
  const told = Float64Array.from(time);
  for (let i = 1; i < told.length; i++) {
    if (!channels.some(({ values }) => values[i]! !== values[i - 1]! && !Number.isNaN(values[i]!)))
      told[i] = told[i - 1]!;
  }
  return told;
}

/**
 * NaN is no sample. Leaps of one channel, in order of time; none across a place in `restarts` (s).
 * @param told of {@link toldUpTo}; asked only where something leaps
 */
export function leapsOf(
  channel: Channel,
  samples: Samples,
  time: Float64Array,
  restarts: readonly number[],
  told: () => Float64Array,
): readonly Leap[] {
  const base = channel.id.split('.')[0]!;
  const speed = SPEEDS.includes(base);
  const allowed = speed ? SPEED : SLOW[base];
  if (allowed === undefined || channel.quality.constant) return [];
  const { values } = channel;
  if (!leapsAtAll(values, allowed[0])) return [];
  const rows = speed ? changesOf(values) : samples.fresh(channel.id);
  const found: Leap[] = [];
  for (let k = 1; k < rows.length; k++) {
    const i = rows[k - 1]!;
    const j = rows[k]!;
    const before = values[i]!;
    const after = values[j]!;
    const dt = time[j]! - time[i]!;
    const size = Math.abs(after - before);
    if (!(size > allowed[0])) continue;
    const bound = allowed[0] + allowed[1] * (time[j]! - told()[i]!);
    if (!(size > bound)) continue;
    if (speed && (dt > SPEED_STEP || before < MOVES || after < MOVES)) continue;
    if (restarts.some((at) => at > time[i]! && at <= time[j]!)) continue;
    if (!stays(values, rows, k, before, after)) continue;
    found.push({
      channel: channel.id,
      unit: channel.unit,
      from: time[i]!,
      to: time[j]!,
      before,
      after,
      times: size / bound,
    });
  }
  return found;
}

/** False where no two neighbouring samples are further apart than a state may change at once: most columns. */
function leapsAtAll(values: Float64Array, atOnce: number): boolean {
  let last = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    if (Math.abs(x - last) > atOnce) return true;
    last = x;
  }
  return false;
}

/** Rows at which the value is another than before. */
function changesOf(values: Float64Array): Int32Array {
  const rows = new Int32Array(values.length);
  let count = 0;
  let last = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x) || x === last) continue;
    rows[count++] = i;
    last = x;
  }
  return rows.subarray(0, count);
}

/** On both sides the neighbours lie nearer to their own end of the step than to the other. */
function stays(values: Float64Array, rows: Int32Array, k: number, before: number, after: number): boolean {
  const middle = (before + after) / 2;
  const up = after > before;
  let seen = 0;
  for (let d = 1; d <= STAYS && k + d < rows.length; d++, seen++)
    if (values[rows[k + d]!]! > middle !== up) return false;
  for (let d = 2; d <= STAYS && k - d >= 0; d++, seen++) if (values[rows[k - d]!]! < middle !== up) return false;
  return seen >= 2;
}

/**
 * Places where at least two kinds of state leap together, or the road speed leaps from one speed of driving to another;
 * else one channel alone is a loose plug, not a seam.
 */
export function seamsOf(leaps: readonly Leap[]): readonly Seam[] {
  const sorted = [...leaps].sort((a, b) => a.to - b.to);
  const seams: Seam[] = [];
  for (let k = 0; k < sorted.length; ) {
    const group = [sorted[k]!];
    let n = k + 1;
    while (n < sorted.length && sorted[n]!.from - group[0]!.to <= TOGETHER) group.push(sorted[n++]!);
    const kinds = kindsOf(group);
    if (kinds >= 2 || group.some(({ channel, times }) => channel === 'vehicleSpeed' && times >= ALONE))
      seams.push({
        from: Math.min(...group.map(({ from }) => from)),
        to: Math.max(...group.map(({ to }) => to)),
        leaps: group,
      });
    k = n;
  }
  return seams;
}

/** One wheel spins or locks; three that leap together are the car. */
const WHEELS = 3;

function kindsOf(leaps: readonly Leap[]): number {
  const kinds = new Set(leaps.map(({ channel }) => channel.split('.')[0]!));
  const wheels = new Set(leaps.filter(({ channel }) => channel.startsWith('wheelSpeed')).map(({ channel }) => channel));
  if (wheels.size < WHEELS) kinds.delete('wheelSpeed');
  return kinds.size;
}
