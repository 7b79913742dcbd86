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

/** Time (s) up to which the file tells anything new by row `row`. */
export type Told = (row: number) => number;

/**
 * NaN is no sample. The last row, up to the one asked for, at which any of the channels changed. A logger that lost its
 * link writes the last values on and on, and the car warms up meanwhile. Few rows are asked for, mostly in order.
 */
export function toldUpTo(channels: readonly Channel[], time: Float64Array): Told {
  const changes = (i: number): boolean =>
    channels.some(({ values }) => values[i]! !== values[i - 1]! && !Number.isNaN(values[i]!));
  let asked = 0;
  let told = 0;
  return (row) => {
    const from = row < asked ? 0 : asked;
    let i = row;
    while (i > from && !changes(i)) i--;
    if (i > from || from === 0) told = i;
    asked = row;
    return time[told]!;
  };
}

/**
 * NaN is no sample. Leaps of one channel, in order of time; none across a place in `restarts` (s).
 * @param told of {@link toldUpTo}
 */
export function leapsOf(
  channel: Channel,
  samples: Samples,
  time: Float64Array,
  restarts: readonly number[],
  told: Told,
): readonly Leap[] {
  const base = channel.id.split('.')[0]!;
  const speed = SPEEDS.includes(base);
  const allowed = speed ? SPEED : SLOW[base];
  if (allowed === undefined || channel.quality.constant) return [];
  const { values } = channel;
  const [atOnce, perSecond] = allowed;
  const found: Leap[] = [];
  for (let j = nextLeap(values, atOnce, 0); j < values.length; j = nextLeap(values, atOnce, j)) {
    const rows = speed ? changesAround(values, j) : samples.fresh(channel.id);
    const k = placeOf(rows, j);
    const i = rows[k - 1]!;
    const before = values[i]!;
    const after = values[j]!;
    const dt = time[j]! - time[i]!;
    const size = Math.abs(after - before);
    if (speed && (dt > SPEED_STEP || before < MOVES || after < MOVES)) continue;
    const bound = atOnce + perSecond * (time[j]! - told(i));
    if (!(size > bound)) continue;
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

/** First row after `row` whose sample lies further from the one before it than a state may change at once; else the number of rows. */
function nextLeap(values: Float64Array, atOnce: number, row: number): number {
  let last = values[row]!;
  let i = row + 1;
  for (; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    if (Math.abs(x - last) > atOnce) break;
    last = x;
  }
  return i;
}

/** Rows around row `row`, itself one of them, at which the value is another than before: as many as {@link stays} asks for. */
function changesAround(values: Float64Array, row: number): Int32Array {
  const before: number[] = [];
  const after: number[] = [];
  for (let i = changeBefore(values, row); i >= 0 && before.length < STAYS; i = changeBefore(values, i))
    before.unshift(i);
  for (let i = changeAfter(values, row); i < values.length && after.length < STAYS; i = changeAfter(values, i))
    after.push(i);
  return Int32Array.of(...before, row, ...after);
}

/** Row at which the last sample before row `row` came up; -1 where none is before it. */
function changeBefore(values: Float64Array, row: number): number {
  let i = row - 1;
  while (i >= 0 && Number.isNaN(values[i]!)) i--;
  let first = i;
  for (; i >= 0; i--) {
    if (Number.isNaN(values[i]!)) continue;
    if (values[i]! !== values[first]!) break;
    first = i;
  }
  return first;
}

/** First row after `row` that has another sample than it; the number of rows where none has. */
function changeAfter(values: Float64Array, row: number): number {
  let i = row + 1;
  while (i < values.length && (Number.isNaN(values[i]!) || values[i]! === values[row]!)) i++;
  return i;
}

/** Where a row stands among rows in order that hold it. */
function placeOf(rows: Int32Array, row: number): number {
  let low = 0;
  let high = rows.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle]! < row) low = middle + 1;
    else high = middle;
  }
  return low;
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
