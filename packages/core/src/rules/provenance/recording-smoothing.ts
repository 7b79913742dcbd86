import type { Samples } from '../../derived/samples.js';
import { mean } from '../../math/mean.js';
import { median, orderStatistic } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { MOVES, SPEEDS } from './recording-edits.js';
import { abrupt, type Edit, LEAST, overlap, REST, runsOf, windowsOf } from './recording-windows.js';

/** Fresh samples of a window. */
const FRESH = 8;
/** Noise of a smoothed stretch over its usual one, at most; channels that must have kept theirs. */
const QUIET = 0.33;
const OTHERS = 3;
/** Share of the second differences that count: the largest are gear shifts and steps of the pedal. */
const CALM = 0.8;
/** Second differences of a window that tell its noise as well as all of them; and where there are more windows than so many. */
const BENDS = 100;
const MANY = { windows: 200, bends: 50 };
/** Multiples of the usual scatter of its noise. */
const NOISE_SCATTER = 4.5;
/** The windows beside a stretch are sound to this share of its size. */
const ABRUPT = 0.35;
/** Noise of a stretch over the least of all other windows, and where the two kinds of window part. */
const UNDER_FLOOR = 0.45;
const PART = 1.6;
/** Noise over movement from sample to sample, over the least of all other windows. */
const SMOOTHER = 0.8;
/**
 * Steps below which the noise of a written column is not told. Derived: rounding (uniform, q / sqrt 12) makes second
 * differences of sqrt(6) q / sqrt(12) = 0.7 q by itself, yet none at all where a value falls by whole steps row by row.
 */
const UNTOLD = 0.5;
/** Columns that one movement moves: where all of a kind fall quiet, it is the driving. */
const KINDS: readonly (readonly string[])[] = [
  ['engineSpeed', 'vehicleSpeed', 'gpsSpeed', 'wheelSpeed', 'outputShaftSpeed'],
  ['manifoldPressure', 'airMassFlow', 'engineLoad', 'engineTorque'],
];
/** Windows elsewhere in which a column is as quiet beside the others, to this factor: it is so by itself. */
const ELSEWHERE = 2;
const SAME = 2;

/** One window of one column, natural logarithms; NaN where it does not tell. */
interface Window {
  /** Of the mean second difference of fresh samples, the largest left out. */
  readonly noise: number;
  /** Of the noise over the mean first difference: what moves without noise has little of it. */
  readonly rough: number;
}

const SILENT: Window = { noise: Number.NaN, rough: Number.NaN };

/**
 * NaN is no sample. Stretches in which one lively column lost its noise while the others kept theirs, told in two ways.
 * First, its noise by second differences of fresh samples, a window at a time, against its own usual noise and against how
 * far the noise of the others rose or fell in the same window: quiet driving quietens all of them, an edit one. Second,
 * where noise rises with what is measured, against its floor: a stretch that moves on, and undercuts by far the least noise
 * that the sensor has anywhere else.
 */
export function smoothedStretches(channels: readonly Channel[], samples: Samples, time: Float64Array): readonly Edit[] {
  if (channels.length < OTHERS + 1) return [];
  const edges = windowsOf(time);
  const windows = noiseOf(channels, samples, edges);
  const relative = windows.map((column) => {
    const usual = median(column.flatMap(({ noise }) => (Number.isNaN(noise) ? [] : [noise])));
    return column.map(({ noise }) => noise - usual);
  });
  const found: (Edit & { readonly shared: boolean })[] = [];
  channels.forEach((channel, c) => {
    const beside = besideOthers(relative, c, kinOf(channels, c));
    const floor = beside.length === 0;
    for (const stretch of floor ? underFloor(windows[c]!) : beside) {
      const [from, to, level] = stretch;
      found.push({
        kind: 'smoothed',
        channel: channel.id,
        kin: channels.filter((_, k) => k !== c).map(({ id }) => id),
        from: time[edges[from]![0]]!,
        to: time[edges[to - 1]![1] - 1]!,
        factor: Math.exp(level),
        shared: floor && sharedFall(relative, c, stretch),
      });
    }
  });
  // Where several columns fall quiet together it is the driving, or what makes them all.
  return found.filter((a) => !a.shared && !found.some((b) => b.channel !== a.channel && overlap(a, b)));
}

/** Windows of each column with the noise in them. */
function noiseOf(
  channels: readonly Channel[],
  samples: Samples,
  edges: readonly (readonly [number, number])[],
): readonly (readonly Window[])[] {
  const engine = samples.held('engineSpeed');
  const running = edges.map(([a, b]) => {
    if (engine === undefined) return true;
    for (let i = a; i < b; i++) if (engine[i]! < 400) return false;
    return true;
  });
  const most = edges.length > MANY.windows ? MANY.bends : BENDS;
  return channels.map((channel) => {
    const rows = samples.fresh(channel.id);
    const { values, quality } = channel;
    const floor = UNTOLD * quality.quantum;
    const slowest = SPEEDS.includes(channel.id.split('.')[0]!) ? MOVES : Number.NEGATIVE_INFINITY;
    const bends = new Float64Array(2 * most);
    const steps = new Float64Array(2 * most);
    let k = 0;
    return edges.map(([a, b], w): Window => {
      while (k < rows.length && rows[k]! < a) k++;
      const first = k;
      while (k < rows.length && rows[k]! < b) k++;
      if (k - first < FRESH || running[w] === false) return SILENT;
      let total = 0;
      let count = 0;
      let least = Number.POSITIVE_INFINITY;
      let highest = Number.NEGATIVE_INFINITY;
      // Of a fast column every n-th bend tells as much.
      const stride = Math.max(1, Math.floor((k - first - 2) / most));
      for (let m = first + 1; m + 1 < k; m += stride) {
        const y = values[rows[m]!]!;
        const next = values[rows[m + 1]!]!;
        bends[count] = Math.abs(values[rows[m - 1]!]! - 2 * y + next);
        steps[count] = Math.abs(next - y);
        least = Math.min(least, y);
        highest = Math.max(highest, y);
        total += y;
        count++;
      }
      // What does not move has no noise to lose, and a speed near standstill is 0 for a part of the time.
      if (least < slowest) return SILENT;
      if (count < FRESH - 2 || !(highest - least > 8 * quality.quantum) || Number.isNaN(total)) return SILENT;
      const noise = Math.log(Math.max(calmMean(bends, count), floor));
      return { noise, rough: noise - Math.log(Math.max(calmMean(steps, count), floor)) };
    });
  });
}

/** Mean of the first values without the largest of them; puts them in order. */
function calmMean(values: Float64Array, count: number): number {
  const some = values.subarray(0, count);
  const kept = Math.ceil(CALM * count);
  if (kept < count) orderStatistic(some, kept);
  return mean(some.subarray(0, kept));
}

type Stretch = readonly [from: number, to: number, level: number];

/** Columns of the same kind as column `c`. */
function kinOf(channels: readonly Channel[], c: number): readonly number[] {
  const base = (k: number): string => channels[k]!.id.split('.')[0]!;
  const kind = KINDS.find((ids) => ids.includes(base(c))) ?? [];
  return channels.flatMap((_, k) => (k !== c && kind.includes(base(k)) ? [k] : []));
}

/**
 * Stretches in which the noise of column `c` fell against that of the others, and against that of its `kin`. Where its
 * second differences are more movement than noise (slow rows, a sensor without noise of its own) it falls further than
 * the others by itself: then it does so elsewhere too.
 */
function besideOthers(relative: readonly (readonly number[])[], c: number, kin: readonly number[]): readonly Stretch[] {
  const own = relative[c]!;
  const alone = own.map((x, w) => {
    const others = relative.flatMap((column, k) => (k === c || Number.isNaN(column[w]!) ? [] : [column[w]!]));
    return others.length >= OTHERS ? x - median(others) : Number.NaN;
  });
  const beside = own.map((x, w) => {
    const some = kin.map((k) => relative[k]![w]!).filter((y) => !Number.isNaN(y));
    return some.length > 0 ? x - median(some) : Number.NaN;
  });
  const known = alone.filter((x) => !Number.isNaN(x));
  if (known.length < LEAST + REST) return [];
  const usual = median(known);
  const scatter = 1.4826 * median(known.map((x) => Math.abs(x - usual)));
  const limit = Math.max(-Math.log(QUIET), NOISE_SCATTER * scatter);
  const off = alone.map((x) => x - usual);
  const level = ([from, to]: readonly [number, number]): number => middle(off, from, to);
  const runs = runsOf(off, (x) => x < -limit).filter((run) => {
    const sound = ABRUPT * level(run);
    return abrupt(off, run[0], run[1], (x) => x > sound);
  });
  const rest = off.filter((x, w) => x < -limit && !runs.some(([from, to]) => w >= from - 1 && w <= to));
  const usualBeside = middle(beside, 0, beside.length);
  return runs.flatMap((run): Stretch[] => {
    const as = level(run);
    if (rest.filter((x) => x < as + Math.log(SAME)).length >= ELSEWHERE) return [];
    const kinFell = middle(beside, run[0], run[1]) - usualBeside > Math.log(QUIET);
    return kinFell ? [] : [[run[0], run[1], as]];
  });
}

/** The other columns fell as far in these windows, to a factor: it is the driving. */
function sharedFall(relative: readonly (readonly number[])[], c: number, [from, to]: Stretch): boolean {
  const others = relative.flatMap((column, k) => {
    const fall = k === c ? Number.NaN : middle(column, from, to);
    return Number.isNaN(fall) ? [] : [fall];
  });
  return others.length > 0 && middle(relative[c]!, from, to) - median(others) > -Math.log(SAME);
}

/** Median of the windows `from..to` that tell; NaN of none. */
function middle(values: readonly number[], from: number, to: number): number {
  return median(values.slice(from, to).filter((x) => !Number.isNaN(x)));
}

/** The stretch in which a column moves on with less noise than its sensor has anywhere else. */
function underFloor(windows: readonly Window[]): readonly Stretch[] {
  const noise = windows.map((each) => each.noise);
  const sorted = noise.filter((x) => !Number.isNaN(x)).sort((a, b) => a - b);
  if (sorted.length < LEAST + REST) return [];
  // Quiet windows and all others part where the step between neighbours in order of noise is widest.
  let parts = -1;
  for (let k = LEAST; k <= sorted.length / 2 && sorted.length - k >= REST; k++)
    if (parts < 0 || sorted[k]! - sorted[k - 1]! > sorted[parts]! - sorted[parts - 1]!) parts = k;
  if (parts < 0 || sorted[parts]! - sorted[parts - 1]! < Math.log(PART)) return [];
  const limit = (sorted[parts]! + sorted[parts - 1]!) / 2;
  const runs = runsOf(noise, (x) => x < limit);
  if (runs.length !== 1) return [];
  const [from, to] = runs[0]!;
  const inside = noise.slice(from, to).filter((x) => !Number.isNaN(x));
  // A quiet window elsewhere: it is the driving.
  if (inside.length !== parts) return [];
  const level = median(inside) - sorted[parts]!;
  const rough = (some: readonly Window[]): number[] => some.flatMap((w) => (Number.isNaN(w.rough) ? [] : [w.rough]));
  const others = rough([...windows.slice(0, Math.max(0, from - 1)), ...windows.slice(to + 1)]);
  const still =
    others.length === 0 || median(rough(windows.slice(from, to))) > Math.min(...others) + Math.log(SMOOTHER);
  const ends = abrupt(noise, from, to, (x) => x > limit);
  const usual = median(noise.filter((x, w) => !Number.isNaN(x) && (w < from || w >= to)));
  return level < Math.log(UNDER_FLOOR) && !still && ends ? [[from, to, median(inside) - usual]] : [];
}
