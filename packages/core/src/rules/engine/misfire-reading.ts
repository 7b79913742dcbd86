import { exceeds } from '../../derived/exceeds.js';
import { firstAtOrAfter } from '../../derived/intervals.js';
import type { Misfires } from '../../derived/misfires.js';
import { regularisedGamma } from '../../math/gamma.js';
import type { Limit } from '../rule.js';

/** Revolutions of the window for emissions, and of the one for the catalyst: 13 CCR 1968.2(e)(3), from memory. */
export const LONG = 1000;
export const SHORT = 200;
/** Steps of the counter that a window must hold: one lump may stem from before it. */
const STEPS = 3;
/** Engine speed integrates to this (relative standard uncertainty). Common practice, no source. */
const REVOLUTIONS = 0.01;

/** Chance that the worst of all windows of a drive is no worse than an even rate makes it: below this it is no chance. */
const CHANCE = 0.05;
/** Windows that slide take the worst of about so many times as many as lie beside each other. Derived: quarter steps. */
const SLIDES = 4;

export interface Window {
  /** Revolutions that it was asked to hold. */
  readonly revolutions: number;
  readonly from: number;
  readonly to: number;
  /** % of the firings. */
  readonly rate: number;
  /** Standard uncertainty of the rate, %. */
  readonly u: number;
  readonly misfires: number;
}

/**
 * Windows of so many revolutions, apart from each other, whose rate is beyond the limit; and the highest of all windows.
 * The worst of many windows is high by chance: one that an even rate explains (Poisson, allowing for the choice of the
 * worst; the rate of the drive, for short windows of the 1000 revolutions around it) counts only where the drive as a
 * whole is beyond the limit; what a short window lacks then, longer ones show.
 */
export function windowsBeyond(
  misfires: Misfires,
  time: Float64Array,
  revolutions: number,
  limit: Limit,
): { readonly beyond: readonly Window[]; readonly highest: Window | undefined } {
  const { added, revolutions: turned } = misfires;
  const even = evenRates(misfires);
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
      const window = windowOf(misfires, time, start, end - 1, turns, count, revolutions);
      if (highest === undefined || window.rate > highest.rate) highest = window;
      if (
        start >= free &&
        steps >= STEPS &&
        exceeds(window.rate, window.u, limit.value, limit.comparison) === 'beyond' &&
        !even.explains(start, end, turns, count, revolutions, limit.value)
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
  revolutions: number,
): Window {
  const firings = (turns * misfires.cylinders) / 2;
  const rate = (100 * count) / firings;
  // Ends of the window against readings of the counter: one interval each, rectangular (JCGM 100, F.2.2.1).
  const edges = (misfires.interval * Math.sqrt(2 / 12)) / Math.max(time[end]! - time[Math.max(0, start - 1)]!, 1e-3);
  // Which misfire falls inside depends on where the window begins: one more or less.
  const quantum = 100 / firings / Math.sqrt(3);
  return {
    revolutions,
    from: time[start]!,
    to: time[end]!,
    rate,
    u: Math.hypot(rate * edges, rate * REVOLUTIONS, quantum),
    misfires: count,
  };
}

/** What an even rate, that of the drive or of the surroundings, makes of the worst window. */
function evenRates({ added, revolutions: turned, cylinders }: Misfires) {
  const turns = cumulative(turned);
  const misses = cumulative(added);
  const rows = turned.length;
  const total = turns[rows]!;
  const whole = total > 0 ? misses[rows]! / total : 0;
  /** Misfires a revolution in the 1000 revolutions around rows `start` to `end`, exclusive. */
  const around = (start: number, end: number): number => {
    const spare = Math.max(0, LONG - (turns[end]! - turns[start]!)) / 2;
    const low = Math.max(0, Math.min(turns[start]! - spare, total - LONG));
    const from = firstAtOrAfter(turns, low);
    const to = Math.min(rows, firstAtOrAfter(turns, low + LONG));
    return turns[to]! > turns[from]! ? (misses[to]! - misses[from]!) / (turns[to]! - turns[from]!) : whole;
  };
  return {
    explains(start: number, end: number, turned: number, count: number, revolutions: number, limit: number): boolean {
      const local = revolutions < LONG && total > LONG;
      const rate = local ? Math.max(whole, around(start, end)) : whole;
      if (!local && (100 * rate) / (cylinders / 2) > limit) return false;
      const windows = Math.max(1, (SLIDES * total) / revolutions);
      // P(X >= n) of a Poisson count with mean m is the regularised lower gamma function P(n, m) (Abramowitz & Stegun 26.4.21, from memory).
      return regularisedGamma(count, rate * turned) * windows > CHANCE;
    },
  };
}

function cumulative(values: Float64Array): Float64Array {
  const sums = new Float64Array(values.length + 1);
  for (let i = 0; i < values.length; i++) sums[i + 1] = sums[i]! + values[i]!;
  return sums;
}

/** Sum over the rows of a mask. */
export function sumWhere(values: Float64Array, mask: Uint8Array): number {
  let total = 0;
  for (let i = 0; i < values.length; i++) if (mask[i] === 1) total += values[i]!;
  return total;
}
