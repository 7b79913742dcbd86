import { uncertaintyOf } from '../../derived/exceeds.js';
import { segmentsOf, widened } from '../../derived/intervals.js';
import { freshIndices, freshRate } from '../../derived/refresh.js';
import { effectiveSampleSize } from '../../math/effective-sample-size.js';
import { madn } from '../../math/madn.js';
import { movingMedian } from '../../math/moving-median.js';
import { median } from '../../math/quantile.js';
import { standardDeviation } from '../../math/standard-deviation.js';
import type { Channel } from '../../recording/recording.js';

/** Seconds after the pedal is released that are left out; seconds and fresh samples that a stretch must have. */
export const SETTLES = 10;
export const LONG = 30;
export const FRESH = 30;
/** Seconds within which the fresh samples have to come: a swing shows its size at any rate once they are enough. */
export const SLOW = 60;
/** Seconds over which the level of the idle is followed. */
const DETREND = 10;
/** Samples to either side that this takes at least: the median of fewer follows the swing itself. */
const FEWEST = 5;
/** Seconds after a load step or a new selector state that are left out. */
const STEP = 3;
/** A target that moves by more than this (rpm) is a load step. Common practice, no source. */
const TARGET_STEP = 30;
/** Seconds of a part of a stretch: how far the swing of the parts scatters tells how well the whole is known. */
const PART = 8;
/** One-sided 95 % point of Student's t with 3 degrees of freedom over that of the normal distribution: few parts. */
const FEW_PARTS = 2.353 / 1.645;
/** Engine speed and its target agree to this (rpm, half-width). Common practice, no source. */
const TOLERANCE = 5;

export interface IdleStretch {
  readonly from: number;
  readonly to: number;
  /** rpm: level, swing (MADN) and its standard uncertainty. */
  readonly level: number;
  readonly swing: number;
  readonly uSwing: number;
  /** rpm over the target, NaN without one. */
  readonly off: number;
  readonly uOff: number;
  readonly samples: number;
  /** Swings per second, NaN where the log is too slow to tell. */
  readonly frequency: number;
  /** Code of the selector, NaN when not recorded. */
  readonly selector: number;
}

/** Rows of steady states: the mask less what follows a change of one of the columns. */
export function unstepped(
  mask: Uint8Array,
  time: Float64Array,
  columns: readonly { readonly values: Float64Array; readonly step: number }[],
): Uint8Array {
  const steps = new Uint8Array(time.length);
  for (const { values, step } of columns) {
    let last = Number.NaN;
    for (let i = 0; i < values.length; i++) {
      const x = values[i]!;
      if (Number.isNaN(x)) continue;
      if (Math.abs(x - last) > step) steps[i] = 1;
      if (!(Math.abs(x - last) <= step)) last = x;
    }
  }
  const result = mask.slice();
  for (const { start, end } of widened(segmentsOf(steps, time), time, 0, STEP)) result.fill(0, start, end + 1);
  return result;
}

export const TARGET = TARGET_STEP;

/** One stretch of idle; undefined when it holds too few fresh samples. */
export function readStretch(
  speed: Channel,
  time: Float64Array,
  start: number,
  end: number,
  target: Float64Array | undefined,
  selector: Float64Array | undefined,
): IdleStretch | undefined {
  const { hz } = freshRate(speed);
  const rows = freshIndices(speed.values.subarray(start, end + 1), time.subarray(start, end + 1), hz);
  if (rows.length < FRESH) return undefined;
  const values = Float64Array.from(rows, (i) => speed.values[start + i]!);
  const seconds = time[end]! - time[start]!;
  const rate = rows.length / seconds;
  const usual = movingMedian(values, Math.max(FEWEST, Math.round((DETREND / 2) * rate)));
  const rest = values.map((x, k) => x - usual[k]!);
  const swing = madn(rest);
  const worth = effectiveSampleSize(rest);
  const over = target === undefined ? undefined : Float64Array.from(rows, (i, k) => values[k]! - target[start + i]!);
  const off = over === undefined ? Number.NaN : median(over);
  return {
    from: time[start]!,
    to: time[end]!,
    level: median(values),
    swing,
    uSwing: Math.hypot(
      uncertaintyOf(speed, { fresh: rows.length }),
      scatterOf(rest, Math.max(1, Math.round(PART * rate))),
    ),
    off,
    // The median of normal noise scatters 1.25 times as much as its mean.
    uOff: uncertaintyOf(speed, { noise: 1.25 * swing, fresh: worth, tolerance: TOLERANCE }),
    samples: rows.length,
    frequency: rate >= 4 ? crossings(rest, swing) / 2 / seconds : Number.NaN,
    selector: selector?.[start] ?? Number.NaN,
  };
}

/** Standard uncertainty of the swing of all parts together, by the scatter between parts (JCGM 100:2008, 4.2.3). */
function scatterOf(values: Float64Array, length: number): number {
  const parts: number[] = [];
  for (let i = 0; i + length <= values.length; i += length) parts.push(madn(values.subarray(i, i + length)));
  return (FEW_PARTS * standardDeviation(parts)) / Math.sqrt(parts.length);
}

/** Changes of sign, with a band of half a swing in which nothing counts. */
function crossings(values: Float64Array, swing: number): number {
  let side = 0;
  let count = 0;
  for (let i = 0; i < values.length; i++) {
    const here = values[i]! > 0.5 * swing ? 1 : values[i]! < -0.5 * swing ? -1 : side;
    if (side !== 0 && here !== side) count++;
    side = here;
  }
  return count;
}
