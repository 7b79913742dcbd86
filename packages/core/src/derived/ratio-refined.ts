import { evenly } from '../math/evenly.js';
import { gathered } from '../math/gather.js';
import { mean } from '../math/mean.js';
import { quantileInPlace } from '../math/quantile.js';
import { correctionU, type RatioCorrection } from './ratio-correction.js';
import type { RatioSamples } from './ratio-samples.js';

/** A heap of ratios that is taken for a gear. */
export interface Cluster {
  /** rpm per km/h, and its standard uncertainty. */
  readonly value: number;
  readonly u: number;
  readonly samples: number;
  /** Samples, those that may hold slip counted as a tenth. */
  readonly weight: number;
  /** ln(value) */
  readonly x: number;
  /** Spread of its logarithms beyond what quanta explain: tyres at a few thousandths, a slipping converter at a hundredth or more. */
  readonly scatter: number;
  /** d ln(v) / dt, 1/s: 10th and 90th percentile. */
  readonly growth: readonly [number, number];
}

/** Least measurements and seconds of a gear. Common practice, no source. */
const LEAST = 3;
const SECONDS = 2;
/** Lag is known to a tenth of the sample interval (see aligned.ts). */
const LAG_U = 0.1;
/** Slip by design that comes and goes with acceleration looks like a lag: this share of a lag is in doubt. Common practice, no source. */
const LAG_DOUBT = 0.35;
/** Driving slip of tyres that does not go with acceleration (drag at speed), as a share. Common practice, no source. */
const SLIP_U = 0.002;
/** Samples with the converter open lead only where there are no others; their slip as a share. Common practice, no source. */
export const OPEN_WEIGHT = 0.1;
const OPEN_U = 0.04;
/** A heap that scatters by more than this (ln) behind what may be an open converter holds its slip. Common practice, no source. */
const SLIPS = 0.008;
/** Times its scatter by which such a heap may lie off the ratio. Common practice, no source. */
const HIDDEN = 3;
/** Members that tell the middle of a heap as well as all of them. */
const ENOUGH = 5000;

/** No heap reaches further than this from its mode (ln). */
const WIDEST = 0.05;

/** Corrected logarithms of the measurements that count, sorted into the heaps of their modes. */
export interface Heaps {
  /** ln(rpm per km/h) by measurement; NaN belongs to no heap. */
  readonly x: Float64Array;
  /** ln, ascending. */
  readonly modes: readonly number[];
  /** Of each mode the measurements nearest to it that lie within 0.05, ascending. */
  readonly near: readonly Int32Array[];
}

/** NaN belongs to no heap. @param modes ascending, further apart than heaps are wide */
export function heapsOf(x: Float64Array, modes: readonly number[]): Heaps {
  const counts = new Int32Array(modes.length);
  const heap = sortedInto(x, Float64Array.from(modes), counts);
  const near = modes.map((_, m) => new Int32Array(counts[m]!));
  distribute(heap, near, counts.fill(0));
  return { x, modes, near };
}

/** Index of the nearest mode no further away than a heap reaches, -1 = none; and how many each has, into `counts`. */
function sortedInto(x: Float64Array, modes: Float64Array, counts: Int32Array): Int16Array {
  const heap = new Int16Array(x.length).fill(-1);
  for (let k = 0; k < x.length; k++) {
    const each = x[k]!;
    if (Number.isNaN(each)) continue;
    let m = 0;
    while (m + 1 < modes.length && modes[m + 1]! - each < each - modes[m]!) m++;
    if (m >= modes.length || Math.abs(each - modes[m]!) > WIDEST) continue;
    heap[k] = m;
    counts[m]!++;
  }
  return heap;
}

function distribute(heap: Int16Array, near: readonly Int32Array[], counts: Int32Array): void {
  for (let k = 0; k < heap.length; k++) {
    const m = heap[k]!;
    if (m >= 0) near[m]![counts[m]!++] = k;
  }
}

/** NaN is none. Values no further than `reach` from `centre`, both ends included. */
function countWithin(x: Float64Array, centre: number, reach: number): number {
  const low = centre - reach;
  const high = centre + reach;
  let count = 0;
  for (let k = 0; k < x.length; k++) if (x[k]! >= low && x[k]! <= high) count++;
  return count;
}

/**
 * Biweight mean around a mode (Mosteller & Tukey, Data Analysis and Regression, 1977), or nothing when too thin to be a
 * gear.
 * @param m which mode
 * @param reach half the distance to the nearest other mode, ln
 */
export function refined(
  data: RatioSamples,
  { x, modes, near }: Heaps,
  m: number,
  correction: RatioCorrection,
  reach: number,
): Cluster | undefined {
  const { interval } = data;
  const mode = modes[m]!;
  const inside = insideOf(near[m]!, x, data.u, mode, Math.min(WIDEST, reach));
  const count = inside.length;
  const seconds = count * interval;
  if (count < LEAST || seconds < SECONDS) return undefined;
  const members = evenly(inside, ENOUGH);
  const own = {
    x: gathered(x, members),
    u: gathered(data.u, members),
    v: gathered(data.v, members),
    growth: gathered(data.growth, members),
    open: openAt(data.open, members),
  };
  // A gear is a gear because shaft speed follows road speed: seen at more than one speed, or for long.
  const span = quantileOf(own.v, 0.95) / quantileOf(own.v, 0.05);
  if (span < 1.04 && seconds < 15) return undefined;
  let centre = mode;
  let spread = 0;
  for (let pass = 0; pass < 5; pass++) {
    spread = Math.max(0.0005, 1.4826 * quantileInPlace(distances(own.x, centre), 0.5));
    const next = weightedCentre(own.x, own.u, own.open, centre, spread);
    if (Number.isNaN(next)) break;
    centre = next;
  }
  const coarse = quantileOf(own.u, 0.5);
  const share = mean(own.open);
  const value = Math.exp(centre);
  const scatter = Math.sqrt(Math.max(0, spread * spread - coarse * coarse));
  const weight = count * (1 - (1 - OPEN_WEIGHT) * share);
  const doubt = (): number => {
    // Neighbouring samples share their error: one second counts as one.
    const independent = Math.max(1, Math.min(count, seconds));
    // What is left of the lag acts through the usual growth of speed in that gear (first gear: always pulling away).
    const lagU = Math.hypot(LAG_U * Math.max(0.1, interval), LAG_DOUBT * correction.lag);
    const late = lagU * quantileInPlace(distances(own.growth, 0), 0.5);
    const regressors = [
      mean(own.growth),
      mean(own.v.map((speed) => 1 / speed)),
      mean(gathered(data.light, members)),
      mean(own.growth.map((growth, k) => growth * own.v[k]!)),
    ];
    const idle = mean(gathered(data.faint, members));
    return Math.hypot(
      correctionU(correction, regressors),
      spread / Math.sqrt(independent),
      coarse / Math.sqrt(Math.max(4, independent)),
      late,
      SLIP_U,
      FAINT_U * correction.slip * idle,
      share > 0.5 ? OPEN_U * share : 0,
      data.hydraulic && share <= 0.5 && scatter > SLIPS ? HIDDEN * scatter : 0,
      scattered(x, centre, reach) ? SCATTERED_U : 0,
    );
  };
  return {
    value,
    samples: count,
    weight,
    x: centre,
    scatter,
    // Most heaps are refined again before anybody asks.
    get u() {
      return doubt() * value;
    },
    get growth() {
      return [quantileOf(own.growth, 0.1), quantileOf(own.growth, 0.9)] as const;
    },
  };
}

// Loops stand in functions of their own: what is learned from is read once, and a large function would be compiled anew for
// each of its loops.

/** Measurements of a heap within three times their own uncertainty, no less than 0.02 and no more than `limit` (ln). */
function insideOf(near: Int32Array, x: Float64Array, u: Float64Array, mode: number, limit: number): Int32Array {
  const inside = new Int32Array(near.length);
  let count = 0;
  for (let n = 0; n < near.length; n++) {
    const k = near[n]!;
    if (Math.abs(x[k]! - mode) < Math.max(0.02, Math.min(limit, 3 * u[k]!))) inside[count++] = k;
  }
  return inside.subarray(0, count);
}

function openAt(open: Uint8Array, members: Int32Array): Float64Array {
  const found = new Float64Array(members.length);
  for (let k = 0; k < found.length; k++) found[k] = open[members[k]!]!;
  return found;
}

function quantileOf(values: Float64Array, p: number): number {
  return quantileInPlace(values.slice(), p);
}

function distances(values: Float64Array, middle: number): Float64Array {
  const found = new Float64Array(values.length);
  for (let k = 0; k < found.length; k++) found[k] = Math.abs(values[k]! - middle);
  return found;
}

/** One step of a biweight mean; NaN when nothing is near enough. */
function weightedCentre(x: Float64Array, u: Float64Array, open: Float64Array, middle: number, spread: number): number {
  let total = 0;
  let sum = 0;
  for (let k = 0; k < x.length; k++) {
    const variance = u[k]! * u[k]! + spread * spread;
    const off = x[k]! - middle;
    const z2 = (off * off) / (16 * variance);
    if (z2 >= 1) continue;
    const w = (((1 - z2) * (1 - z2)) / variance) * (open[k] === 1 ? OPEN_WEIGHT : 1);
    total += w;
    sum += w * x[k]!;
  }
  return total > 0 ? sum / total : Number.NaN;
}

/** Heaps of one gear with its converter open and closed lie no further apart than this (ln); first and second gear do. From memory. */
const SLIP_REACH = 0.15;
/** Scatter (ln) from which on, and times that of a neighbour by which, a heap slips. Common practice, no source. */
const BROAD = { least: 0.005, times: 2 };
/** A heap so many times heavier than its neighbour is the gear of the two. Common practice, no source. */
const HEAVIER = 3;
/** Pulling or slowing down harder than this (1/s) all the time turns an open converter, one way each. Common practice, no source. */
const HARD = 0.06;

/** An open converter leaves a heap beside the one of its gear, some percent off: broader, or seen in hard pulling or slowing only. No gear. */
export function withoutSlipping(data: RatioSamples, clusters: readonly Cluster[]): Cluster[] {
  if (!data.hydraulic) return [...clusters];
  const slipsBeside = (own: Cluster, other: Cluster | undefined): boolean => {
    if (other === undefined || Math.abs(other.x - own.x) > SLIP_REACH || own.weight > HEAVIER * other.weight)
      return false;
    if (own.scatter > BROAD.least && own.scatter > BROAD.times * other.scatter) return true;
    // The engine runs ahead of its gear where it pulls, behind it where the car slows down.
    return other.x < own.x ? own.growth[0] > HARD : own.growth[1] < -HARD && other.growth[1] > -HARD;
  };
  return clusters.filter((own, i) => !slipsBeside(own, clusters[i - 1]) && !slipsBeside(own, clusters[i + 1]));
}

/** Share of the slip by design that is in doubt where the engine hardly pulls. Common practice, no source. */
const FAINT_U = 0.5;

/** Half-widths of a heap and of what lies around it, ln. */
const HEAP = 0.02;
const AROUND = 0.1;
/** Ratio (as a share) of what is no clear heap: hunting between two gears in a slow log leaves such. Common practice, no source. */
const SCATTERED_U = 0.1;

/** True when the heap does not stand out of its surroundings by more than chance (Poisson, 3.5 sigma, as it is the highest of many places). */
function scattered(x: Float64Array, centre: number, reach: number): boolean {
  const outer = Math.min(AROUND, 1.1 * reach);
  if (outer < 2 * HEAP) return false;
  const inside = countWithin(x, centre, HEAP);
  const around = countWithin(x, centre, outer) - inside;
  const chance = (around * HEAP) / (outer - HEAP);
  return inside < chance + 3.5 * Math.sqrt(chance);
}
