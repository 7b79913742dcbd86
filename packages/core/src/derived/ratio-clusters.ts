import {
  assign,
  assigned,
  nearestOf,
  numbersOf,
  oncePerNumber,
  type Points,
  roomOf,
  rowGears,
  withoutLone,
} from './ratio-assignment.js';
import {
  correctedRatios,
  correctionOf,
  lagDoubt,
  lagOnly,
  type RatioCorrection,
  sharpestLag,
} from './ratio-correction.js';
import { CLOSEST, modesOf } from './ratio-density.js';
import { blocksOf, inPieces, thinned } from './ratio-parts.js';
import { bandMedians, cellMedians, loggedPairs, type PassingRatio, passingRatios } from './ratio-raw.js';
import { type Cluster, heapsOf, OPEN_WEIGHT, refined, withoutSlipping } from './ratio-refined.js';
import { COARSEST, RATIO_SAMPLES, RATIO_SOURCE, type RatioSamples, settledOf } from './ratio-samples.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';

export interface LearnedRatio {
  /** rpm per km/h: gear x final drive over rolling circumference, all in one. */
  readonly value: number;
  /** Standard uncertainty, rpm per km/h. */
  readonly u: number;
  /** Median of the nearest pairs as logged, nothing aligned (rpm per km/h): what published simple fits give. */
  readonly apparent: number;
  /** Settled measurements behind it. */
  readonly samples: number;
  /** Number of the gear by the gear channel; NaN without one. */
  readonly number: number;
}

export interface LearnedRatios {
  /** Ascending gear: highest rpm per km/h first. */
  readonly ratios: readonly LearnedRatio[];
  /** Row by row: 1..n = entry of `ratios` that the car drives in; NaN = shift, slip, take-up, standstill, neutral. */
  readonly gear: Float64Array;
  /** Heaps that were never held: no gears, told for completeness. */
  readonly passing: readonly PassingRatio[];
  /** True when the gearbox is geared to just the wheels that were measured: no slip of tyres is in the ratios. */
  readonly geared: boolean;
  /** What it was learned from, e.g. `engineSpeed over wheelSpeed`. */
  readonly source: string;
  /** Channel of the shaft speed. */
  readonly shaft: string;
  /** Seconds by which shaft speed runs ahead of road speed. */
  readonly lag: number;
  /** Standard uncertainty of the lag, s. */
  readonly lagU: number;
  /** km/h that the road speed reads low (a display that cuts decimals). */
  readonly offset: number;
  /** rpm by which clutches slip by design at light load; taken out of the ratios. */
  readonly slip: number;
  /** Slip of the driven tyres, share per (km/h)/s of acceleration; taken out of the ratios. */
  readonly tyres: number;
}

/** Slowest speed to learn at, km/h. */
const SLOWEST = 6;

/** The gears without their rows: in a long recording ten samples a second tell them as well. */
interface RatioFit extends Omit<LearnedRatios, 'gear'> {
  readonly clusters: readonly Cluster[];
  readonly correction: RatioCorrection;
  /** Cluster of each measurement, where all of them were looked at. */
  readonly found?: Int8Array;
}

const RATIO_FIT = recipe<RatioFit>({
  id: 'ratioFit',
  about: 'Modes of ln(shaft speed / road speed) with the lag, offset and slips that were taken out; see learnedRatios.',
  compute(drive) {
    const all = drive.derive(RATIO_SAMPLES);
    if (isRefusal(all)) return all;
    const data = thinned(all);
    // Lag and slips are learned from a part of a long recording, the gears from all of it.
    const part = inPieces(data);
    const tells = plausible(part);
    let correction = lagOnly(sharpestLag(part, tells));
    let points = pointsOf(part, correction);
    let clusters: readonly Cluster[] = clustersOf(part, tells, points, correction);
    for (let pass = 0; pass < 3 && clusters.length > 0; pass++) {
      const members = membersOf(part, tells, points, clusters);
      correction = correctionOf(part, correction.lag, members, clusters.length);
      points = pointsOf(part, correction);
      if (pass < 2 || part === data) clusters = clustersOf(part, tells, points, correction);
    }
    if (part !== data) {
      points = pointsOf(data, correction);
      clusters = clustersOf(data, plausible(data), points, correction);
    }
    clusters = thickened(data, withoutSlipping(data, clusters));
    if (clusters.length === 0) {
      return refuse('no gear ratio: road speed and engine speed never settled to one another', {
        conditions: ['gentle drive through every forward gear, each >= 5 s'],
      });
    }
    let found = assigned(data, points, clusters);
    let numbers = numbersOf(drive, data, points, found, clusters.length);
    const once = oncePerNumber(clusters, numbers);
    if (once.length < clusters.length) {
      clusters = once;
      found = assigned(data, points, clusters);
      numbers = numbersOf(drive, data, points, found, clusters.length);
    }
    const centres = clusters.map(({ x }) => x);
    const pairs = loggedPairs(data);
    const apparent = cellMedians(pairs, centres);
    return {
      clusters,
      correction,
      ...(data === all ? { found } : {}),
      ratios: clusters.map(({ value, u, samples }, c) => ({
        value,
        u,
        apparent: apparent[c]!,
        samples,
        number: numbers[c]!,
      })),
      passing: passingRatios(data, pairs, found, centres),
      geared: data.geared,
      shaft: data.shaft,
      source: `${data.shaft} over ${data.road}`,
      lag: correction.lag,
      lagU: lagDoubt(correction, data.interval),
      offset: correction.offset,
      slip: correction.slip,
      tyres: correction.tyres,
    };
  },
});

export const LEARNED_RATIOS = recipe<LearnedRatios>({
  id: 'learnedRatios',
  about:
    'Gears without a gear channel: modes of ln(shaft speed / road speed) over settled samples, taken to zero acceleration; number of gears, rpm per km/h of each with uncertainty, gear row by row.',
  compute(drive) {
    const fit = drive.slow.derive(RATIO_FIT);
    if (isRefusal(fit)) return fit;
    const { clusters, correction, found, ...learned } = fit;
    let gear: Float64Array | undefined;
    return {
      ...learned,
      // Not everybody asks for the rows, and they are many.
      get gear() {
        gear ??= gearOf(drive, clusters, correction, drive === drive.slow ? found : undefined);
        return gear;
      },
    };
  },
});

function gearOf(
  drive: Drive,
  clusters: readonly Cluster[],
  correction: RatioCorrection,
  known: Int8Array | undefined,
): Float64Array {
  const source = drive.derive(RATIO_SOURCE);
  // What the fit was made from is there.
  if (isRefusal(source)) throw new Error(source.reason);
  if (known !== undefined) return rowGears(drive, source, known);
  const found = new Int8Array(source.row.length);
  let memory: Points = { x: new Float64Array(0), settled: new Uint8Array(0) };
  for (const { data, own, first } of blocksOf(drive, source, Math.abs(correction.lag))) {
    const count = data.x.length;
    if (memory.x.length < count) memory = { x: new Float64Array(count), settled: new Uint8Array(count) };
    const x = correctedRatios(data, correction, 1, memory.x.subarray(0, count));
    const points = { x, settled: settledOf(data, x, memory.settled.subarray(0, count)) };
    assign(data, points, clusters, own[0], found.subarray(first, first + own[1] - own[0]));
  }
  return rowGears(drive, source, withoutLone(found, source.interval));
}

function pointsOf(data: RatioSamples, correction: RatioCorrection): Points {
  const x = correctedRatios(data, correction);
  return { x, settled: settledOf(data, x) };
}

/** 1 = may tell a ratio, else 0. Near idle speed the clutch may be open or slipping: the car rolls or creeps at any ratio. */
function plausible({ x, v, n, u, idle }: RatioSamples): Float64Array {
  const tells = new Float64Array(x.length);
  for (let k = 0; k < tells.length; k++) {
    const idling = Math.abs(n[k]! / idle - 1) < 0.06;
    if (v[k]! >= SLOWEST && u[k]! < COARSEST && !idling && !Number.isNaN(x[k]!)) tells[k] = 1;
  }
  return tells;
}

function clustersOf(data: RatioSamples, tells: Float64Array, points: Points, correction: RatioCorrection): Cluster[] {
  const { x, weight } = weighed(data, tells, points);
  const modes = modesOf(x, data.u, weight);
  const heaps = heapsOf(
    x,
    modes.map((mode) => mode.x),
  );
  const clusters: Cluster[] = [];
  for (let m = modes.length - 1; m >= 0; m--) {
    const mode = modes[m]!;
    const below = m > 0 ? mode.x - modes[m - 1]!.x : Number.POSITIVE_INFINITY;
    const above = m + 1 < modes.length ? modes[m + 1]!.x - mode.x : Number.POSITIVE_INFINITY;
    const cluster = refined(data, heaps, m, correction, 0.45 * Math.min(below, above));
    if (cluster !== undefined) clusters.push(cluster);
  }
  return withoutShoulders(withoutTwins(clusters));
}

/** Settled measurements with their weights; NaN and 0 of all others. */
function weighed(
  { u, open }: RatioSamples,
  tells: Float64Array,
  points: Points,
): { x: Float64Array; weight: Float64Array } {
  const x = points.x.slice();
  const weight = new Float64Array(x.length);
  for (let k = 0; k < x.length; k++) {
    const counts = points.settled[k]! > 0 && tells[k] === 1;
    if (!counts) x[k] = Number.NaN;
    else weight[k] = points.settled[k]! * Math.min(1, 0.006 / u[k]!) * (open[k] === 1 ? OPEN_WEIGHT : 1);
  }
  return { x, weight };
}

/** Two heaps that drew together when refined are one gear: the better founded stays. */
function withoutTwins(clusters: readonly Cluster[]): Cluster[] {
  return clusters.filter((a) =>
    clusters.every(
      (b) => a === b || Math.abs(a.x - b.x) >= CLOSEST || a.weight > b.weight || (a.weight === b.weight && a.x > b.x),
    ),
  );
}

/** First and second gear of road cars are further apart than this (ln): nearer heaps are reverse or a slipping take-up. From memory. */
const FIRST_STEP = 0.22;
/** Share of a neighbour's samples below which a heap close to it is its slip or its late samples, not a gear. */
const FAINT = 0.12;
/** The same where the heap is as sharp (ln) as a gear that is held, by so many samples: slip and late samples spread. Common practice, no source. */
const SHARP = { scatter: 0.003, samples: 30, share: 0.06 } as const;

/** A slipping clutch, an open converter or late samples leave a faint heap beside a strong one: no gear. */
function withoutShoulders(clusters: readonly Cluster[]): Cluster[] {
  const faint = ({ scatter, samples }: Cluster): number =>
    scatter < SHARP.scatter && samples >= SHARP.samples ? SHARP.share : FAINT;
  const kept = clusters.filter((cluster, i) =>
    [clusters[i - 1], clusters[i + 1]].every(
      (other) =>
        other === undefined || Math.abs(cluster.x - other.x) > 0.14 || cluster.weight >= faint(cluster) * other.weight,
    ),
  );
  return withoutNarrow(firstApart(kept));
}

function firstApart(kept: readonly Cluster[]): readonly Cluster[] {
  const [first, second] = kept;
  if (first === undefined || second === undefined || first.x - second.x > FIRST_STEP) return kept;
  // At take-up the heap that lies higher slips, unless the lower one is the odd one.
  return first.weight >= 3 * second.weight ? [first, ...kept.slice(2)] : kept.slice(1);
}

/** Steps of road cars grow smaller towards the top: one narrower than this (ln), and than half of one above it, is none. From memory. */
const NARROW = { step: 0.11, times: 2 } as const;

/** Of two heaps too near each other to be two gears so low in the gearbox the better founded is the gear. */
function withoutNarrow(all: readonly Cluster[]): Cluster[] {
  const step = (k: number): number => all[k]!.x - all[k + 1]!.x;
  for (let k = 0; k + 2 < all.length; k++) {
    if (step(k) >= NARROW.step) continue;
    let widest = 0;
    for (let above = k + 1; above + 1 < all.length; above++) widest = Math.max(widest, step(above));
    if (widest < NARROW.times * step(k)) continue;
    const odd = all[k]!.weight < all[k + 1]!.weight ? k : k + 1;
    return withoutNarrow(all.filter((_, c) => c !== odd));
  }
  return [...all];
}

/** Fewer settled measurements than this are chance: the pairs as logged, being more, tell better. */
const THIN = 6;
/** First and second gear are a factor of 1.4 apart or more, where two thin heaps leave the choice (ln). From memory. */
const THIN_STEP = 0.33;

/** Ratio of a gear that was hardly ever settled from all pairs in its band, with the doubt between both ways. */
function thickened(data: RatioSamples, all: readonly Cluster[]): readonly Cluster[] {
  // Two thin heaps too near to be first and second gear are one gear, scattered.
  const [first, second] = all;
  const torn = first !== undefined && second !== undefined && Math.max(first.samples, second.samples) < THIN;
  const clusters =
    torn && first.x - second.x < THIN_STEP ? [first.samples > second.samples ? first : second, ...all.slice(2)] : all;
  if (clusters.every(({ samples }) => samples >= THIN)) return clusters;
  const apparent = bandMedians(
    data,
    clusters.map(({ x }) => x),
  );
  return clusters.map((cluster, c) => {
    const value = apparent[c]!;
    if (cluster.samples >= THIN || !(value > 0)) return cluster;
    return { ...cluster, value, x: Math.log(value), u: Math.hypot(cluster.u, Math.abs(value - cluster.value)) };
  });
}

/** Settled measurements, in a long recording some of them, and the cluster that each belongs to, -1 = none. */
function membersOf(
  { open }: RatioSamples,
  tells: Float64Array,
  { x, settled }: Points,
  clusters: readonly Cluster[],
): Int8Array {
  const member = new Int8Array(x.length);
  const centres = Float64Array.from(clusters, (cluster) => cluster.x);
  const reach = Float64Array.from(clusters, (_, c) => Math.min(0.06, 0.4 * roomOf(clusters, c)));
  let count = 0;
  for (let k = 0; k < x.length; k++) {
    const counts = settled[k]! > 0 && open[k] !== 1 && tells[k] === 1;
    const c = counts ? nearestOf(centres, x[k]!) : 0;
    const near = counts && !(Math.abs(x[k]! - centres[c]!) > reach[c]!);
    member[k] = near ? c : -1;
    if (near) count++;
  }
  return spread(member, Math.floor(count / ENOUGH));
}

/** Members that tell lag, offset and slips as well as all of them: neighbours share their error anyway. */
const ENOUGH = 15000;

/** Every n-th member stays one; of a gear that few belong to, all. */
function spread(member: Int8Array, every: number): Int8Array {
  if (every < 2) return member;
  const counts = new Int32Array(128);
  for (let k = 0; k < member.length; k++) if (member[k]! >= 0) counts[member[k]!]!++;
  const seen = new Int32Array(128);
  for (let k = 0; k < member.length; k++) {
    const c = member[k]!;
    if (c >= 0 && counts[c]! > RARE && seen[c]!++ % every !== 0) member[k] = -1;
  }
  return member;
}

/** A gear with fewer members than this keeps them all. */
const RARE = 500;
