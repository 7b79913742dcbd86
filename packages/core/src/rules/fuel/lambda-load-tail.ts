import type { Segment } from '../../derived/intervals.js';
import { median } from '../../math/quantile.js';

/** A cut counts where the sensor came up to this; it answers from the first of these levels and reads air from the second. */
const CAME = 1.3;
const LEAVES = 1.05;
const AIR = 1.8;
/** Falling by less than this within so many seconds, two samples in a row: at rest. Common practice, no source. */
const REST = { fall: 0.015, seconds: 0.5 } as const;
/** No sensor that works takes longer than this (s) back from air. Common practice, no source. */
const LONGEST = 10;

export interface Tail {
  /** 1 where the sensor is on its way back from the air of a fuel cut. */
  readonly mask: Uint8Array;
  /** Median time (s) in which it rises to air in cuts; NaN with fewer than two. */
  readonly rise: number;
}

/**
 * A sensor comes back from air by its own time constant, and reads lean on the way although the mixture is right. Rows
 * from the end of each cut until it is at rest, whatever it rests at, are no evidence.
 * @param fresh rows of new values of the sensor
 */
export function tailOf(values: Float64Array, fresh: Int32Array, time: Float64Array, cuts: readonly Segment[]): Tail {
  const mask = new Uint8Array(time.length);
  const rises: number[] = [];
  let next = 0;
  for (const cut of cuts) {
    while (next < fresh.length && fresh[next]! < cut.start) next++;
    let k = next;
    let top = 0;
    let left = Number.NaN;
    let reached = Number.NaN;
    for (; k < fresh.length && fresh[k]! <= cut.end; k++) {
      const x = values[fresh[k]!]!;
      top = Math.max(top, x);
      if (Number.isNaN(left) && x > LEAVES) left = k > 0 && k > next ? time[fresh[k - 1]!]! : Number.NEGATIVE_INFINITY;
      if (Number.isNaN(reached) && x > AIR) reached = time[fresh[k]!]!;
    }
    // One that was lean already as the cut began shows no rise.
    if (Number.isFinite(left) && Number.isFinite(reached)) rises.push(reached - left);
    if (top < CAME) continue;
    let calm = 0;
    let end = cut.end;
    for (; k < fresh.length && time[fresh[k]!]! <= cut.to + LONGEST; k++) {
      end = fresh[k]!;
      calm = values[end]! < AIR && rests(values, fresh, time, k) ? calm + 1 : 0;
      if (calm >= 2) break;
    }
    mask.fill(1, cut.start, end + 1);
  }
  return { mask, rise: rises.length < 2 ? Number.NaN : median(rises) };
}

function rests(values: Float64Array, fresh: Int32Array, time: Float64Array, k: number): boolean {
  const from = fresh[k]!;
  for (let j = k + 1; j < fresh.length; j++)
    if (time[fresh[j]!]! >= time[from]! + REST.seconds - 1e-6) return values[from]! - values[fresh[j]!]! < REST.fall;
  return true;
}
