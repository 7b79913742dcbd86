import { middleBy } from '../math/evenly.js';
import type { Segment } from './intervals.js';
import { type Drive, type Refusal, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface Lag {
  /** Seconds by which the second channel is late against the first. */
  readonly seconds: number;
  /** Standard uncertainty, s. */
  readonly uncertainty: number;
  /** Correlation of the derivatives at that lag. */
  readonly correlation: number;
}

/** Longest lag that is looked for (s). */
const LONGEST = 1.5;
/** Below this correlation of the derivatives the two channels do not follow each other. */
const FOLLOWS = 0.5;
/** Steps that tell a correlation as well as all of them: a difference spans many steps. */
const ENOUGH = 12_000;
/** Cells that the recording is cut into, for the spread of the lag. */
const BLOCKS = 6;

/**
 * Lag of channel `b` against channel `a`: the shift at which the derivatives correlate best, sub-sample by a parabola
 * through the peak (Knapp & Carter, IEEE Trans. ASSP 24 (1976) 320-327, unweighted). Held values are collapsed first.
 * @param except stretches that do not count, e.g. shifts between engine and road speed
 * @param known derivatives of first channels that were worked out with the same stretches; takes this one up
 * Refused when a channel is absent, hardly moves, or the two do not follow each other.
 */
export function lagOf(
  drive: Drive,
  a: string,
  b: string,
  except: readonly Segment[] = [],
  known: Map<string, Float64Array> = new Map(),
): Lag | Refusal {
  const samples = samplesOf(drive);
  const first = samples.held(a);
  const second = samples.held(b);
  if (first === undefined || second === undefined) {
    const absent = [a, b].filter((id) => drive.channel(id) === undefined);
    return refuse(`no lag between ${a} and ${b}, because ${absent.join(' and ')} is absent`, { channels: absent });
  }
  const rate = Math.min(samples.hz(a), samples.hz(b), 50);
  // The differences below hold nothing faster than 3 Hz: 30 points a second carry them.
  const step = 1 / Math.min(30, 4 * rate);
  const reach = Math.max(3, Math.ceil(Math.max(LONGEST, 2 / rate) / step));
  // Differences over a third of a second or two samples: over less, noise and quantum outweigh the movement.
  const half = Math.max(1, Math.round(Math.max(0.15, 1 / rate) / step));
  const withoutStretches = (x: Float64Array): Float64Array => {
    for (const { from, to } of except) {
      const start = Math.floor((from - drive.time[0]!) / step) - half;
      const stop = Math.ceil((to - drive.time[0]!) / step) + half;
      if (stop >= 0) x.fill(Number.NaN, Math.max(0, start), Math.min(x.length, stop + 1));
    }
    return x;
  };
  const key = `${a} ${step} ${half}`;
  const x = known.get(key) ?? withoutStretches(derivativeOnGrid(drive.time, first, samples.fresh(a), step, half));
  known.set(key, x);
  const y = derivativeOnGrid(drive.time, second, samples.fresh(b), step, half);
  const whole = peak(x, y, 0, x.length, reach, half);
  if (whole === undefined || whole.correlation < FOLLOWS) {
    return refuse(`no lag between ${a} and ${b}: their changes do not follow each other`, {
      conditions: [`${a} and ${b} moving together for >= 30 s`],
    });
  }
  let count = 0;
  let total = 0;
  let squares = 0;
  const size = Math.floor(x.length / BLOCKS);
  for (let block = 0; block < BLOCKS; block++) {
    const part = peak(x, y, block * size, (block + 1) * size, reach, half);
    if (part === undefined || part.correlation < FOLLOWS) continue;
    count++;
    total += part.lag;
    squares += part.lag * part.lag;
  }
  const spread = count >= 3 ? Math.sqrt(Math.max(0, squares / count - (total / count) ** 2) / (count - 1)) : 1;
  // Linear interpolation between fresh samples is blind below about a tenth of their interval.
  const floor = 0.1 / rate / step;
  return {
    seconds: whole.lag * step,
    uncertainty: Math.hypot(spread, floor) * step,
    correlation: whole.correlation,
  };
}

/** Differences of the line through the fresh samples, on an even grid; NaN over gaps of more than 2 intervals. */
function derivativeOnGrid(
  time: Float64Array,
  values: Float64Array,
  fresh: Int32Array,
  step: number,
  half: number,
): Float64Array {
  const n = Math.max(1, Math.floor(((time[time.length - 1] ?? 0) - (time[0] ?? 0)) / step));
  const result = new Float64Array(n).fill(Number.NaN);
  if (fresh.length > 0) differences(time, values, fresh, step, half, result);
  return result;
}

/** Puts the difference over `half` steps to both sides into each place of the grid that has them. */
function differences(
  time: Float64Array,
  values: Float64Array,
  rows: Int32Array,
  step: number,
  half: number,
  result: Float64Array,
): void {
  const reach = reachOf(time, rows, 2);
  const begin = time[0]!;
  // The last levels of the line: no more are needed at a time.
  const size = 2 * half + 1;
  const levels = new Float64Array(size);
  let place = 0;
  let k = 0;
  for (let i = 0; i <= result.length; i++) {
    const t = begin + i * step;
    while (k + 1 < rows.length && time[rows[k + 1]!]! <= t) k++;
    const level = levelAt(time, values, rows, k, t, reach);
    levels[place] = level;
    place = place + 1 === size ? 0 : place + 1;
    // Now the oldest level stands at the place that comes next.
    if (i >= 2 * half && i - half < result.length) result[i - half] = level - levels[place]!;
  }
}

/** The line through the samples at `rows`, of which number `k` is the last one not after `t`; NaN outside of it. */
function levelAt(
  time: Float64Array,
  values: Float64Array,
  rows: Int32Array,
  k: number,
  t: number,
  reach: number,
): number {
  const t0 = time[rows[k]!]!;
  if (t < t0) return Number.NaN;
  const v0 = values[rows[k]!]!;
  if (t === t0) return v0;
  if (k + 1 >= rows.length) return Number.NaN;
  const span = time[rows[k + 1]!]! - t0;
  return span <= reach ? v0 + ((values[rows[k + 1]!]! - v0) * (t - t0)) / span : Number.NaN;
}

/** Seconds between samples over which the line through them goes on. */
function reachOf(time: Float64Array, rows: Int32Array, maxIntervals: number): number {
  const gap = (k: number): number => time[rows[k + 1]!]! - time[rows[k]!]!;
  return maxIntervals * middleBy(Math.max(0, rows.length - 1), gap) * (1 + 1e-9);
}

interface Peak {
  /** Grid steps. */
  readonly lag: number;
  readonly correlation: number;
}

function peak(
  x: Float64Array,
  y: Float64Array,
  from: number,
  to: number,
  reach: number,
  half: number,
): Peak | undefined {
  const scores = new Float64Array(2 * reach + 1);
  const told = movesOf(x, from, to);
  for (let lag = -reach; lag <= reach; lag++) scores[lag + reach] = correlationAt(x, y, told, lag);
  let best = -1;
  for (let k = 0; k < scores.length; k++) if (best < 0 ? scores[k]! > 0 : scores[k]! > scores[best]!) best = k;
  // A peak at the border is no peak. The parabola spans half a difference, not one step: the top is flat and noisy.
  const reachable = Math.min(best, scores.length - 1 - best);
  if (best < 0 || reachable < 1) return undefined;
  const arm = Math.min(reachable, Math.max(1, half >> 1));
  const left = scores[best - arm]!;
  const middle = scores[best]!;
  const right = scores[best + arm]!;
  const curve = left - 2 * middle + right;
  const shift = curve < 0 ? (0.5 * arm * (left - right)) / curve : 0;
  return { lag: best - reach + shift, correlation: middle };
}

/** Steps that tell something about `x`, of many every n-th: most of a recording may not count. */
function movesOf(x: Float64Array, from: number, to: number): Int32Array {
  const count = toldIn(x, from, to);
  const every = Math.max(1, Math.floor(count / ENOUGH));
  const moves = new Int32Array(Math.ceil(count / every));
  let passed = 0;
  for (let i = from; i < to; i++) {
    if (Number.isNaN(x[i]!)) continue;
    if (passed % every === 0) moves[passed / every] = i;
    passed++;
  }
  return moves;
}

function toldIn(x: Float64Array, from: number, to: number): number {
  let count = 0;
  for (let i = from; i < to; i++) if (!Number.isNaN(x[i]!)) count++;
  return count;
}

/** Correlation of x(t) with y(t + lag) over the given steps about zero: derivatives have no offset worth taking off. */
function correlationAt(x: Float64Array, y: Float64Array, told: Int32Array, lag: number): number {
  const sums = { xx: 0, yy: 0, xy: 0 };
  // In parts: a loop over all of it would be compiled while it runs, and left again at its end.
  for (let from = 0; from < told.length; from += PART) {
    add(sums, x, y, told.subarray(from, from + PART), lag);
  }
  const { xx, yy, xy } = sums;
  return xx > 0 && yy > 0 ? xy / Math.sqrt(xx * yy) : 0;
}

const PART = 512;

function add(
  sums: { xx: number; yy: number; xy: number },
  x: Float64Array,
  y: Float64Array,
  told: Int32Array,
  lag: number,
): void {
  let { xx, yy, xy } = sums;
  for (let k = 0; k < told.length; k++) {
    const i = told[k]!;
    const p = x[i]!;
    const j = i + lag;
    if (j < 0 || j >= y.length) continue;
    const q = y[j]!;
    if (Number.isNaN(q)) continue;
    xx += p * p;
    yy += q * q;
    xy += p * q;
  }
  sums.xx = xx;
  sums.yy = yy;
  sums.xy = xy;
}

/**
 * NaN is no sample; outside the samples, and between samples further apart than `maxIntervals` of their median spacing,
 * the answer is NaN: nothing is made up over a gap. Linear between samples.
 * @param at times asked for (s), ascending
 */
export function resampled(values: Float64Array, time: Float64Array, at: Float64Array, maxIntervals = 2): Float64Array {
  const rows = new Int32Array(values.length);
  let count = 0;
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) rows[count++] = i;
  return resampledAt(time, values, rows.subarray(0, count), at, maxIntervals);
}

function resampledAt(
  time: Float64Array,
  values: Float64Array,
  rows: Int32Array,
  at: Float64Array,
  maxIntervals: number,
): Float64Array {
  const result = new Float64Array(at.length).fill(Number.NaN);
  const n = rows.length;
  if (n === 0) return result;
  const reach = reachOf(time, rows, maxIntervals);
  let k = 0;
  for (let i = 0; i < at.length; i++) {
    const t = at[i]!;
    while (k + 1 < n && time[rows[k + 1]!]! <= t) k++;
    result[i] = levelAt(time, values, rows, k, t, reach);
  }
  return result;
}
