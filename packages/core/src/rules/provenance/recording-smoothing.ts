import type { Samples } from '../../derived/samples.js';
import { meanOfNumbers } from '../../math/mean.js';
import { median, medianOfFew, orderStatistic } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { MOVES, SPEEDS } from './recording-edits.js';
import { abrupt, type Edit, LEAST, overlap, REST, runsOf, told, type Windows } from './recording-windows.js';

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

/**
 * NaN is no sample. Stretches in which one lively column lost its noise while the others kept theirs, told in two ways.
 * First, its noise by second differences of fresh samples, a window at a time, against its own usual noise and against how
 * far the noise of the others rose or fell in the same window: quiet driving quietens all of them, an edit one. Second,
 * where noise rises with what is measured, against its floor: a stretch that moves on, and undercuts by far the least noise
 * that the sensor has anywhere else.
 */
export function smoothedStretches(
  channels: readonly Channel[],
  samples: Samples,
  time: Float64Array,
  edges: Windows,
): readonly Edit[] {
  if (channels.length < OTHERS + 1) return [];
  const columns = noiseOf(channels, samples, edges);
  const relative = columns.map(({ noise }) => {
    const usual = median(noise);
    return noise.map((x) => x - usual);
  });
  const alone = besideAll(relative);
  const found: (Edit & { readonly shared: boolean })[] = [];
  channels.forEach((channel, c) => {
    const beside = besideOthers(relative, alone[c]!, c, kinOf(channels, c));
    const floor = beside.length === 0;
    for (const stretch of floor ? underFloor(columns[c]!) : beside) {
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

/** Windows of one column, natural logarithms; NaN where one does not tell. */
interface Column {
  /** Of the mean second difference of fresh samples, the largest left out. */
  readonly noise: Float64Array;
  /** Of the noise over the mean first difference, of a window that tells: what moves without noise has little of it. */
  rough(window: number): number;
}

/** Windows of each column with the noise in them. */
function noiseOf(channels: readonly Channel[], samples: Samples, edges: Windows): readonly Column[] {
  const engine = samples.held('engineSpeed');
  const running = edges.map(([from, to]) => engine === undefined || engineRuns(engine, from, to));
  const most = edges.length > MANY.windows ? MANY.bends : BENDS;
  const some = new Float64Array(2 * most);
  return channels.map((channel): Column => {
    const fresh = freshOf(channel, samples.fresh(channel.id), edges, most);
    const floor = UNTOLD * channel.quality.quantum;
    const level = (count: number): number => Math.log(Math.max(calmMean(some, count), floor));
    const noise = new Float64Array(edges.length).fill(Number.NaN);
    for (let w = 0; w < edges.length; w++) {
      const count = running[w] === true ? bendsOf(fresh, w, some) : 0;
      if (count > 0) noise[w] = level(count);
    }
    return { noise, rough: (w) => noise[w]! - level(stepsOf(fresh, w, some)) };
  });
}

/** An engine that stands has no noise. */
function engineRuns(engine: Float64Array, from: number, to: number): boolean {
  for (let i = from; i < to; i++) if (engine[i]! < 400) return false;
  return true;
}

/** Fresh samples of one column, and which of them stand in each window. */
interface Fresh {
  readonly values: Float64Array;
  readonly rows: Int32Array;
  /** Where the rows of each window begin, and where those of the last one end. */
  readonly places: Int32Array;
  /** Of a fast column every n-th sample of a window tells as much. */
  readonly most: number;
  /** Least value that tells, and how far a column has to move. */
  readonly slowest: number;
  readonly moves: number;
}

/** Where the rows of each window begin, and where those of the last one end. */
function placesOf(rows: Int32Array, edges: Windows): Int32Array {
  const places = new Int32Array(edges.length + 1);
  for (let w = 0; w < edges.length; w++) {
    const [from, to] = edges[w]!;
    places[w + 1] = placeBefore(rows, to, places[w]!, Math.min(rows.length, places[w]! + to - from));
  }
  return places;
}

/** First place within `low..high` of a row that is not before `end`; `high` where there is none. */
function placeBefore(rows: Int32Array, end: number, low: number, high: number): number {
  let first = low;
  let last = high;
  while (first < last) {
    const middle = (first + last) >> 1;
    if (rows[middle]! < end) first = middle + 1;
    else last = middle;
  }
  return first;
}

function freshOf({ id, values, quality }: Channel, rows: Int32Array, edges: Windows, most: number): Fresh {
  const slowest = SPEEDS.includes(id.split('.')[0]!) ? MOVES : Number.NEGATIVE_INFINITY;
  return { values, rows, places: placesOf(rows, edges), most, slowest, moves: 8 * quality.quantum };
}

/** Puts the second differences of a window into `bends`: how many, 0 where it does not tell. */
function bendsOf({ values, rows, places, most, slowest, moves }: Fresh, window: number, bends: Float64Array): number {
  const [first, end] = [places[window]!, places[window + 1]!];
  if (end - first < FRESH) return 0;
  const stride = strideOf(first, end, most);
  let count = 0;
  let least = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  for (let m = first + 1; m + 1 < end; m += stride) {
    const y = values[rows[m]!]!;
    bends[count++] = Math.abs(values[rows[m - 1]!]! - 2 * y + values[rows[m + 1]!]!);
    least = Math.min(least, y);
    highest = Math.max(highest, y);
  }
  // What does not move has no noise to lose, and a speed near standstill is 0 for a part of the time.
  return least >= slowest && count >= FRESH - 2 && highest - least > moves ? count : 0;
}

/** Puts the first differences of a window into `steps`, where {@link bendsOf} looks: how many. */
function stepsOf({ values, rows, places, most }: Fresh, window: number, steps: Float64Array): number {
  const [first, end] = [places[window]!, places[window + 1]!];
  const stride = strideOf(first, end, most);
  let count = 0;
  for (let m = first + 1; m + 1 < end; m += stride)
    steps[count++] = Math.abs(values[rows[m + 1]!]! - values[rows[m]!]!);
  return count;
}

function strideOf(first: number, end: number, most: number): number {
  return Math.max(1, Math.floor((end - first - 2) / most));
}

/** Mean of the first values without the largest of them; puts them in order. */
function calmMean(values: Float64Array, count: number): number {
  const some = values.subarray(0, count);
  const kept = Math.ceil(CALM * count);
  if (kept < count) orderStatistic(some, kept);
  return meanOfNumbers(some.subarray(0, kept));
}

type Stretch = readonly [from: number, to: number, level: number];

/** Columns of the same kind as column `c`. */
function kinOf(channels: readonly Channel[], c: number): readonly number[] {
  const base = (k: number): string => channels[k]!.id.split('.')[0]!;
  const kind = KINDS.find((ids) => ids.includes(base(c))) ?? [];
  return channels.flatMap((_, k) => (k !== c && kind.includes(base(k)) ? [k] : []));
}

/** Noise of each column against the middle of that of the others, window by window; NaN where too few of them tell. */
function besideAll(relative: readonly Float64Array[]): readonly Float64Array[] {
  const others = new Float64Array(relative.length);
  return relative.map((own, c) =>
    own.map((x, w) => {
      let told = 0;
      let count = 0;
      for (let k = 0; k < relative.length; k++) {
        const y = relative[k]![w]!;
        if (k === c || Number.isNaN(y)) continue;
        told++;
        // Without steps and without noise the logarithm has no end.
        if (Number.isFinite(y)) others[count++] = y;
      }
      return told >= OTHERS ? x - medianOfFew(others, count) : Number.NaN;
    }),
  );
}

/**
 * Stretches in which the noise of column `c` fell against that of the others, and against that of its `kin`. Where its
 * second differences are more movement than noise (slow rows, a sensor without noise of its own) it falls further than
 * the others by itself: then it does so elsewhere too.
 * @param alone its noise of {@link besideAll}
 */
function besideOthers(
  relative: readonly Float64Array[],
  alone: Float64Array,
  c: number,
  kin: readonly number[],
): readonly Stretch[] {
  const known = told(alone);
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
  if (runs.length === 0) return [];
  const rest = off.filter((x, w) => x < -limit && !runs.some(([from, to]) => w >= from - 1 && w <= to));
  const beside = relative[c]!.map((x, w) => x - median(kin.map((k) => relative[k]![w]!)));
  const usualBeside = middle(beside, 0, beside.length);
  return runs.flatMap((run): Stretch[] => {
    const as = level(run);
    if (rest.filter((x) => x < as + Math.log(SAME)).length >= ELSEWHERE) return [];
    const kinFell = middle(beside, run[0], run[1]) - usualBeside > Math.log(QUIET);
    return kinFell ? [] : [[run[0], run[1], as]];
  });
}

/** The other columns fell as far in these windows, to a factor: it is the driving. */
function sharedFall(relative: readonly Float64Array[], c: number, [from, to]: Stretch): boolean {
  const others = relative.flatMap((column, k) => {
    const fall = k === c ? Number.NaN : middle(column, from, to);
    return Number.isNaN(fall) ? [] : [fall];
  });
  return others.length > 0 && middle(relative[c]!, from, to) - median(others) > -Math.log(SAME);
}

/** Median of the windows `from..to` that tell; NaN of none. */
function middle(values: Float64Array, from: number, to: number): number {
  return median(values.subarray(from, to));
}

/** The stretch in which a column moves on with less noise than its sensor has anywhere else. */
function underFloor({ noise, rough }: Column): readonly Stretch[] {
  const sorted = told(noise).sort();
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
  const inside = told(noise.subarray(from, to));
  // A quiet window elsewhere: it is the driving.
  if (inside.length !== parts) return [];
  const level = median(inside) - sorted[parts]!;
  const roughness = noise.map((x, w) => (Number.isNaN(x) ? x : rough(w)));
  const others = told(roughness.filter((_, w) => w < from - 1 || w > to));
  const still = others.length === 0 || median(roughness.subarray(from, to)) > Math.min(...others) + Math.log(SMOOTHER);
  const ends = abrupt(noise, from, to, (x) => x > limit);
  const usual = median(noise.filter((_, w) => w < from || w >= to));
  return level < Math.log(UNDER_FLOOR) && !still && ends ? [[from, to, median(inside) - usual]] : [];
}
