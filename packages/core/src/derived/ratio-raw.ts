import { median, quantileInPlace } from '../math/quantile.js';
import { CLOSEST, modesOf } from './ratio-density.js';
import { COARSEST, type RatioSamples } from './ratio-samples.js';

/** A heap of ratios that was never held for two measurements: shift dips, or a gear hardly touched. No gear. */
export interface PassingRatio {
  /** rpm per km/h: middle of the heap. */
  readonly value: number;
  /** Median of all pairs as logged that lie nearest to it, rpm per km/h (see {@link cellMedians}). */
  readonly apparent: number;
  readonly samples: number;
}

/** Slowest speed that counts, km/h. */
const SLOWEST = 5;
/** Outside the outermost gears the band of a gear reaches this far in ln: about half a wide step. */
const OUTER = 0.33;

/**
 * Median of shaft speed over road speed exactly as logged, both of one row, within the band of each gear (to the
 * geometric mean with its neighbours): for gears hardly ever settled. rpm per km/h; NaN when nothing lies there.
 */
export function bandMedians(data: RatioSamples, x: readonly number[]): number[] {
  const inside = new Float64Array(data.x.length);
  return x.map((centre, c) => {
    const upper = c > 0 ? (x[c - 1]! + centre) / 2 : centre + OUTER;
    const lower = c + 1 < x.length ? (x[c + 1]! + centre) / 2 : centre - OUTER / 4;
    let count = 0;
    for (let k = 0; k < data.x.length; k++) {
      if (data.v[k]! > SLOWEST && data.x[k]! > lower && data.x[k]! < upper) inside[count++] = data.x[k]!;
    }
    return Math.exp(quantileInPlace(inside.subarray(0, count), 0.5));
  });
}

/** Slowest speed (km/h) and least multiple of idle speed of pairs as logged: at idle speed the clutch is open. */
const LOGGED = { speed: 2, idle: 1.05 } as const;
/** Rounds in which the cells settle. */
const ROUNDS = 30;

/** Road speed over shaft speed exactly as logged, standstill and idle left out: km/h per rpm, ascending. */
export function loggedPairs(data: RatioSamples): Float64Array {
  const over = new Float64Array(data.x.length);
  let count = 0;
  for (let k = 0; k < data.x.length; k++) {
    const idling = data.n[k]! <= LOGGED.idle * data.idle;
    if (data.v[k]! > LOGGED.speed && !idling && !Number.isNaN(data.x[k]!)) over[count++] = data.v[k]! / data.n[k]!;
  }
  return over.subarray(0, count).sort();
}

/**
 * Median of the pairs nearest to each centre, until the cells settle: k-medians in one dimension (Bradley, Mangasarian &
 * Street, Clustering via concave minimization, NIPS 1996), which is what published simple fits are. Nothing is aligned. A
 * centre that nothing lies near stays where it is.
 * @param sorted of {@link loggedPairs}
 * @param x ln(rpm per km/h) of the centres, in any order
 * @returns rpm per km/h, in the order of `x`
 */
export function cellMedians(sorted: Float64Array, x: readonly number[]): number[] {
  const order = x.map((_, c) => c).sort((a, b) => x[b]! - x[a]!);
  let centres = order.map((c) => Math.exp(-x[c]!));
  for (let round = 0; round < ROUNDS; round++) {
    let from = 0;
    const next = centres.map((centre, c) => {
      const edge = c + 1 < centres.length ? (centre + centres[c + 1]!) / 2 : Number.POSITIVE_INFINITY;
      const to = Math.max(from, firstFrom(sorted, edge));
      const middle = from === to ? centre : (sorted[(from + to - 1) >> 1]! + sorted[(from + to) >> 1]!) / 2;
      from = to;
      return middle;
    });
    const settled = next.every((centre, c) => centre === centres[c]);
    centres = next;
    if (settled) break;
  }
  const found = x.map(() => Number.NaN);
  order.forEach((c, k) => {
    found[c] = 1 / centres[k]!;
  });
  return found;
}

/** Index of the first entry >= edge of an ascending array; its length when there is none. */
function firstFrom(sorted: Float64Array, edge: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle]! < edge) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * Heaps among the measurements that belong to no gear, where they stand closer than chance (Poisson, 2.5 sigma) puts
 * them. Two that draw the same pairs when taken for one more gear are one: the better founded is told.
 * @param pairs of {@link loggedPairs}
 */
export function passingRatios(
  data: RatioSamples,
  pairs: Float64Array,
  found: Int8Array,
  gears: readonly number[],
): PassingRatio[] {
  const heaps = heapsBeside(data, found, gears)
    .sort((a, b) => b.samples - a.samples)
    .map((heap) => ({ ...heap, apparent: cellMedians(pairs, [...gears, Math.log(heap.value)])[gears.length]! }));
  const told = heaps.filter((heap, k) =>
    heaps.slice(0, k).every((other) => Math.abs(Math.log(heap.apparent / other.apparent)) >= CLOSEST),
  );
  return told.sort((a, b) => b.value - a.value);
}

function heapsBeside(data: RatioSamples, found: Int8Array, gears: readonly number[]): Omit<PassingRatio, 'apparent'>[] {
  const rest: number[] = [];
  for (let k = 0; k < found.length; k++) {
    const x = data.x[k]!;
    const moving = data.v[k]! > SLOWEST && data.u[k]! < COARSEST && Math.abs(data.n[k]! / data.idle - 1) > 0.02;
    if (found[k]! < 0 && moving && gears.every((gear) => Math.abs(x - gear) > 0.05)) rest.push(x);
  }
  const x = Float64Array.from(rest);
  const modes = modesOf(x, new Float64Array(x.length).fill(0.012), new Float64Array(x.length).fill(1));
  return modes.flatMap((mode) => {
    const inside = rest.filter((y) => Math.abs(y - mode.x) <= 0.02);
    const around = rest.filter((y) => Math.abs(y - mode.x) <= 0.12).length - inside.length;
    const chance = (around * 0.02) / 0.1;
    if (inside.length < 8 || inside.length < chance + 2.5 * Math.sqrt(chance)) return [];
    // The top of so thin a heap is chance: its middle is sought within half the distance of the closest gears.
    let middle = mode.x;
    for (let pass = 0; pass < 4; pass++) middle = median(rest.filter((y) => Math.abs(y - middle) <= 0.04));
    return [{ value: Math.exp(middle), samples: inside.length }];
  });
}
