import { gathered } from '../math/gather.js';
import { type About, arraysOf, type RatioSamples, type RatioSource, samplesFrom, strideOf } from './ratio-samples.js';
import type { Drive } from './recipe.js';

/** More measurements than this tell no more about ratios. */
const ENOUGH = 10000;
/** Thinned no further than to this (s): shifts and take-ups still show. */
const DENSE = 0.1;

/** Every s-th measurement of a long and dense recording, at 10 Hz or more; the same object when there is nothing to thin. */
export function thinned(data: RatioSamples): RatioSamples {
  const every = Math.min(Math.floor(data.x.length / ENOUGH), Math.floor(DENSE / data.interval + 1e-6));
  if (every < 2) return data;
  const count = Math.floor(data.x.length / every);
  const kept = new Int32Array(count);
  for (let k = 0; k < count; k++) kept[k] = k * every;
  const interval = data.interval * every;
  return pickedSamples(data, kept, { ...data, interval, stride: strideOf(interval) });
}

/** Measurements from which a part of them tells lag and slips as well, how many that part has, and s of a piece of it. */
const PLENTY = 45_000;
const PART = 15_000;
const PIECE = 20;
const SCATTER = 0x9e3779b1;

/**
 * A third or less of the pieces of twenty seconds of a long recording, each whole in itself, scattered by a multiplicative hash
 * (D. E. Knuth, The Art of Computer Programming 3, 6.4), so that no cycle of a drive falls in step with them. The same
 * object when the recording is not so long.
 */
export function inPieces(data: RatioSamples): RatioSamples {
  const count = data.x.length;
  if (count < PLENTY) return data;
  const of = Math.floor(count / PART);
  const kept = new Int32Array(count);
  let n = 0;
  for (let k = 0; k < count; k++)
    if ((Math.imul(Math.floor(data.time[k]! / PIECE), SCATTER) >>> 16) % of === 0) kept[n++] = k;
  return n > 0 ? pickedSamples(data, kept.subarray(0, n)) : data;
}

function pickedSamples(data: RatioSamples, kept: Int32Array, about: About = data): RatioSamples {
  const open = new Uint8Array(kept.length);
  const row = new Int32Array(kept.length);
  for (let k = 0; k < kept.length; k++) {
    row[k] = data.row[kept[k]!]!;
    open[k] = data.open[kept[k]!]!;
  }
  const arrays = {
    time: gathered(data.time, kept),
    v: gathered(data.v, kept),
    n: gathered(data.n, kept),
    x: gathered(data.x, kept),
    u: gathered(data.u, kept),
    growth: gathered(data.growth, kept),
    light: gathered(data.light, kept),
    faint: gathered(data.faint, kept),
    open,
  };
  return samplesFrom(row, arrays, about);
}

/** Measurements of a block. */
const BLOCK = 8192;

/** A part of the measurements: `data` holds some more on either side of `own`, which begins with measurement `first` of all. */
export interface Block {
  readonly data: RatioSamples;
  readonly own: readonly [from: number, to: number];
  readonly first: number;
}

/**
 * All measurements block after block, each in the memory of the one before. Whoever looks `reach` seconds and one stride
 * around an entry of its own sees what is there in all of them.
 */
export function* blocksOf(drive: Drive, source: RatioSource, reach: number): Generator<Block> {
  const { row, stride } = source;
  const { time } = drive;
  let into = arraysOf(Math.min(row.length, 2 * BLOCK));
  for (let first = 0; first < row.length; first += BLOCK) {
    const end = Math.min(row.length, first + BLOCK);
    // The growth of the speed looks one stride around as well.
    let from = Math.max(0, first - 2 * stride);
    let to = Math.min(row.length, end + 2 * stride);
    const [begin, last] = [
      time[row[Math.max(0, first - stride)]!]!,
      time[row[Math.min(row.length, end + stride) - 1]!]!,
    ];
    while (from > 0 && time[row[from]!]! >= begin - reach) from--;
    while (to < row.length && time[row[to - 1]!]! <= last + reach) to++;
    if (to - from > into.x.length) into = arraysOf(to - from);
    yield { data: source.between(from, to, into), own: [first - from, end - from], first };
  }
}
