import { exceeds } from '../../derived/exceeds.js';
import type { Misfires } from '../../derived/misfires.js';
import type { Limit } from '../rule.js';

/** Revolutions of the window for emissions, and of the one for the catalyst: 13 CCR 1968.2(e)(3), from memory. */
export const LONG = 1000;
export const SHORT = 200;
/** Steps of the counter that a window must hold: one lump may stem from before it. */
const STEPS = 3;
/** Engine speed integrates to this (relative standard uncertainty). Common practice, no source. */
const REVOLUTIONS = 0.01;

export interface Window {
  readonly from: number;
  readonly to: number;
  /** % of the firings. */
  readonly rate: number;
  /** Standard uncertainty of the rate, %. */
  readonly u: number;
  readonly misfires: number;
}

/** Windows of so many revolutions, apart from each other, whose rate is beyond the limit; and the highest of all windows. */
export function windowsBeyond(
  misfires: Misfires,
  time: Float64Array,
  revolutions: number,
  limit: Limit,
): { readonly beyond: readonly Window[]; readonly highest: Window | undefined } {
  const { added, revolutions: turned } = misfires;
  const beyond: Window[] = [];
  let highest: Window | undefined;
  let end = 0;
  let turns = 0;
  let count = 0;
  let steps = 0;
  let free = 0;
  for (let start = 0; start < time.length; start++) {
    while (end < time.length && turns < revolutions) {
      turns += turned[end]!;
      count += added[end]!;
      if (added[end]! > 0) steps++;
      end++;
    }
    if (turns < revolutions) break;
    // Nothing turned in the first row: the same window begins later.
    if (turned[start]! > 0) {
      const window = windowOf(misfires, time, start, end - 1, turns, count);
      if (highest === undefined || window.rate > highest.rate) highest = window;
      if (
        start >= free &&
        steps >= STEPS &&
        exceeds(window.rate, window.u, limit.value, limit.comparison) === 'beyond'
      ) {
        beyond.push(window);
        free = end;
      }
    }
    turns -= turned[start]!;
    count -= added[start]!;
    if (added[start]! > 0) steps--;
  }
  return { beyond, highest };
}

function windowOf(
  misfires: Misfires,
  time: Float64Array,
  start: number,
  end: number,
  turns: number,
  count: number,
): Window {
  const firings = (turns * misfires.cylinders) / 2;
  const rate = (100 * count) / firings;
  // Ends of the window against readings of the counter: one interval each, rectangular (JCGM 100, F.2.2.1).
  const edges = (misfires.interval * Math.sqrt(2 / 12)) / Math.max(time[end]! - time[Math.max(0, start - 1)]!, 1e-3);
  // Which misfire falls inside depends on where the window begins: one more or less.
  const quantum = 100 / firings / Math.sqrt(3);
  return {
    from: time[start]!,
    to: time[end]!,
    rate,
    u: Math.hypot(rate * edges, rate * REVOLUTIONS, quantum),
    misfires: count,
  };
}

/** Sum over the rows of a mask. */
export function sumWhere(values: Float64Array, mask: Uint8Array): number {
  let total = 0;
  for (let i = 0; i < values.length; i++) if (mask[i] === 1) total += values[i]!;
  return total;
}
