import { CIRCUMFERENCE_U, overallRatio, parseTyre } from '../vehicle/tyre.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { LearnedRatio } from './ratio-clusters.js';

/** A learned ratio and the gear of the profile that it is taken for. */
export interface Match {
  /** Index into the learned ratios. */
  readonly index: number;
  /** 1..n */
  readonly gear: number;
}

export interface Matching {
  readonly matches: readonly Match[];
  /**
   * Learned over profile, all gears together: 1 when tyre, final drive and speed display are what the profile says; NaN
   * when the profile names no final drive or tyre. A wrong tyre, final drive or display moves this alone, not the steps.
   */
  readonly scale: number;
  /** rpm per km/h of gear ratio 1 by the profile: final drive over circumference; NaN when not named. */
  readonly expected: number;
}

/** Overall rpm per km/h of a gear ratio of 1 by final drive and tyre; the mean of both axles' tyres where they differ. */
export function scaleOf(vehicle: Vehicle): number {
  const { finalDrive } = vehicle.transmission;
  const { tyreFront, tyreRear } = vehicle.driveline;
  const rolled = [tyreFront, tyreRear].flatMap((size) => {
    const tyre = size === undefined ? undefined : parseTyre(size);
    return tyre === undefined ? [] : [tyre.circumference];
  });
  if (finalDrive === undefined || rolled.length === 0) return Number.NaN;
  return overallRatio(1, finalDrive, rolled.reduce((a, b) => a + b) / rolled.length);
}

/** How far the scale may be off (ln) and still be looked for: other tyres, another final drive. Common practice, no source. */
const SCALE_U = 0.08;
/** Scatter (ln) of ratios that belong together, so that a doubtful uncertainty of one gear does not lead. */
const SCATTER = 0.01;

/**
 * Which gear of the profile is which learned ratio. Gears rise in order; numbers from a gear channel are kept where most
 * have one; else the choice with the least squares of ln(learned / profile) about a common scale wins.
 */
export function matchRatios(ratios: readonly LearnedRatio[], gears: readonly number[], expected: number): Matching {
  const numbered = ratios.flatMap(({ number }, index): Match[] =>
    number >= 1 && number <= gears.length ? [{ index, gear: number }] : [],
  );
  const ordered = numbered.every((match, k) => k === 0 || match.gear > numbered[k - 1]!.gear);
  const matches =
    numbered.length > 0 && 2 * numbered.length > ratios.length && ordered ? numbered : best(ratios, gears, expected);
  const offsets = matches
    .map(({ index, gear }) => Math.log(ratios[index]!.value / gears[gear - 1]! / expected))
    .sort((a, b) => a - b);
  const middle = offsets[offsets.length >> 1] ?? Number.NaN;
  return { matches, expected, scale: Math.exp(middle) };
}

function best(ratios: readonly LearnedRatio[], gears: readonly number[], expected: number): Match[] {
  let found: Match[] = [];
  let least = Number.POSITIVE_INFINITY;
  const count = Math.min(ratios.length, gears.length);
  // More heaps than gears: those that fit together are the gears, and heaps with few samples are left out first.
  for (const chosen of subsets(ratios.length, count)) {
    const left = ratios.reduce((sum, { samples }, i) => (chosen.includes(i) ? sum : sum + samples), 0);
    const all = ratios.reduce((sum, { samples }) => sum + samples, 0);
    for (const pick of subsets(gears.length, count)) {
      const offsets = chosen.map((index, i) => Math.log(ratios[index]!.value / gears[pick[i]!]!));
      const cost = costOf(offsets, expected) + (LEFT_OUT * left) / all;
      if (cost >= least) continue;
      least = cost;
      found = chosen.map((index, i) => ({ index, gear: pick[i]! + 1 }));
    }
  }
  return found;
}

/** Cost (as squares of SCATTER) of leaving all samples out: 5 % of them weigh as much as one gear 2 % off. */
const LEFT_OUT = 80;

/** Choices of `count` out of 0..n-1, each ascending. */
function subsets(n: number, count: number, from = 0): number[][] {
  if (count === 0) return [[]];
  const found: number[][] = [];
  for (let i = from; i <= n - count; i++) for (const rest of subsets(n, count - 1, i + 1)) found.push([i, ...rest]);
  return found;
}

function costOf(offsets: readonly number[], expected: number): number {
  const mean = offsets.reduce((a, b) => a + b, 0) / offsets.length;
  const spread = offsets.reduce((sum, x) => sum + ((x - mean) / SCATTER) ** 2, 0);
  return Number.isNaN(expected)
    ? spread
    : spread + ((mean - Math.log(expected)) / Math.hypot(SCALE_U, CIRCUMFERENCE_U)) ** 2;
}
