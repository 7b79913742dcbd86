import { median, quantile } from '../math/quantile.js';
import { modesOf } from './ratio-density.js';
import { RATIO_SAMPLES, type RatioSamples } from './ratio-samples.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface LearnedRatio {
  /** rpm per km/h: gear x final drive over rolling circumference, all in one. */
  readonly value: number;
  /** Standard uncertainty, rpm per km/h. */
  readonly u: number;
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
  /** What it was learned from, e.g. `engineSpeed over wheelSpeed`. */
  readonly source: string;
  /** Seconds by which shaft speed runs ahead of road speed (time lag and slip that grows with acceleration alike). */
  readonly lag: number;
  /** km/h that the road speed reads low (a display that cuts decimals). */
  readonly offset: number;
}

/** Least measurements and seconds of a gear. Common practice, no source. */
const LEAST = 3;
const SECONDS = 2;
/** Slowest speed to learn at, km/h. */
const SLOWEST = 6;

export const LEARNED_RATIOS = recipe<LearnedRatios>({
  id: 'learnedRatios',
  about:
    'Gears without a gear channel: modes of ln(shaft speed / road speed) over settled samples, taken to zero acceleration; number of gears, rpm per km/h of each with uncertainty, gear row by row.',
  compute(drive) {
    const data = drive.derive(RATIO_SAMPLES);
    if (isRefusal(data)) return data;
    const correction = { lag: 0, offset: 0 };
    let clusters = clustersOf(data, correction);
    for (let pass = 0; pass < 2 && clusters.length > 0; pass++) {
      Object.assign(correction, correctionOf(data, clusters, correction));
      clusters = clustersOf(data, correction);
    }
    if (clusters.length === 0) {
      return refuse('no gear ratio: road speed and engine speed never settled to one another', {
        conditions: ['gentle drive through every forward gear, each >= 5 s'],
      });
    }
    const found = assigned(data, clusters, correction);
    const gear = rowGears(drive, data, found);
    return {
      ratios: clusters.map((cluster) => ({ ...cluster, number: numberOf(drive, data, found, cluster, clusters) })),
      gear,
      source: `${data.shaft} over ${data.road}`,
      ...correction,
    };
  },
});

interface Correction {
  readonly lag: number;
  readonly offset: number;
}
interface Cluster {
  readonly value: number;
  readonly u: number;
  readonly samples: number;
  /** ln(value) */
  readonly x: number;
}

/** Logarithm of the ratio with the lag of the pair and the cut decimals of the speed taken out. */
function corrected(data: RatioSamples, k: number, { lag, offset }: Correction): number {
  return data.x[k]! - lag * data.growth[k]! - offset / data.v[k]!;
}

function learnable(data: RatioSamples, k: number): boolean {
  const n = data.n[k]!;
  // Near idle speed the clutch may be open or slipping: the car rolls or creeps at any ratio.
  const idling = Math.abs(n / data.idle - 1) < 0.06;
  return data.settled[k]! > 0 && data.v[k]! >= SLOWEST && data.u[k]! < 0.05 && !idling && !Number.isNaN(data.x[k]!);
}

function clustersOf(data: RatioSamples, correction: Correction): Cluster[] {
  const count = data.x.length;
  const x = new Float64Array(count).fill(Number.NaN);
  const weight = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    if (!learnable(data, k)) continue;
    x[k] = corrected(data, k, correction);
    weight[k] = data.settled[k]! * Math.min(1, 0.006 / data.u[k]!);
  }
  const modes = modesOf(x, data.u, weight);
  const clusters: Cluster[] = [];
  for (let m = modes.length - 1; m >= 0; m--) {
    const mode = modes[m]!;
    const below = m > 0 ? mode.x - modes[m - 1]!.x : Number.POSITIVE_INFINITY;
    const above = m + 1 < modes.length ? modes[m + 1]!.x - mode.x : Number.POSITIVE_INFINITY;
    const cluster = refined(data, x, mode.x, 0.45 * Math.min(below, above));
    if (cluster !== undefined) clusters.push(cluster);
  }
  return withoutShoulders(clusters);
}

/** Biweight mean around a mode (Mosteller & Tukey, Data Analysis and Regression, 1977), or nothing when too thin to be a gear. */
function refined(data: RatioSamples, x: Float64Array, mode: number, reach: number): Cluster | undefined {
  const members: number[] = [];
  const limit = Math.min(0.05, reach);
  for (let k = 0; k < x.length; k++)
    if (Math.abs(x[k]! - mode) < Math.max(0.02, Math.min(limit, 3 * data.u[k]!))) members.push(k);
  if (members.length < LEAST || members.length * data.interval < SECONDS) return undefined;
  const speeds = members.map((k) => data.v[k]!);
  // A gear is a gear because shaft speed follows road speed: seen at more than one speed, or for long.
  const span = quantile(speeds, 0.95) / quantile(speeds, 0.05);
  if (span < 1.04 && members.length * data.interval < 15) return undefined;
  let centre = mode;
  let spread = 0;
  for (let pass = 0; pass < 5; pass++) {
    const away = members.map((k) => Math.abs(x[k]! - centre));
    spread = Math.max(0.0005, 1.4826 * median(away));
    let total = 0;
    let sum = 0;
    for (const k of members) {
      const scale = 4 * Math.hypot(spread, data.u[k]!);
      const z = (x[k]! - centre) / scale;
      if (Math.abs(z) >= 1) continue;
      const w = (1 - z * z) ** 2 / (data.u[k]! ** 2 + spread ** 2);
      total += w;
      sum += w * x[k]!;
    }
    if (!(total > 0)) break;
    centre = sum / total;
  }
  // Neighbouring samples share their error: one second counts as one.
  const independent = Math.max(1, Math.min(members.length, members.length * data.interval));
  const coarse = median(members.map((k) => data.u[k]!));
  const u = Math.hypot(spread / Math.sqrt(independent), coarse / Math.sqrt(Math.max(4, independent)), 0.0005);
  const value = Math.exp(centre);
  return { value, u: u * value, samples: members.length, x: centre };
}

/** A slipping clutch or an open converter leaves a faint cluster just above a strong one: no gear. */
function withoutShoulders(clusters: readonly Cluster[]): Cluster[] {
  return clusters.filter((cluster, i) => {
    const next = clusters[i + 1];
    return next === undefined || cluster.x - next.x > 0.12 || cluster.samples >= 0.15 * next.samples;
  });
}

/**
 * Within clusters: x = constant + lag * d ln v/dt + offset / v, least squares over both, gear means taken out. The lag
 * holds late road speed and driving slip alike; the offset is looked for only where the display is coarse.
 */
function correctionOf(data: RatioSamples, clusters: readonly Cluster[], now: Correction): Correction {
  const groups = clusters.map(() => ({ n: 0, g: 0, r: 0, x: 0 }));
  const member = new Int8Array(data.x.length).fill(-1);
  const coarse = data.quantum >= 0.4;
  for (let k = 0; k < data.x.length; k++) {
    if (!learnable(data, k)) continue;
    const x = corrected(data, k, now);
    const c = nearest(clusters, x);
    if (Math.abs(x - clusters[c]!.x) > 0.03) continue;
    member[k] = c;
    const group = groups[c]!;
    group.n++;
    group.g += data.growth[k]!;
    group.r += 1 / data.v[k]!;
    group.x += data.x[k]!;
  }
  let gg = 0;
  let rr = 0;
  let gr = 0;
  let gx = 0;
  let rx = 0;
  for (let k = 0; k < data.x.length; k++) {
    if (member[k]! < 0) continue;
    const group = groups[member[k]!]!;
    const g = data.growth[k]! - group.g / group.n;
    const r = coarse ? 1 / data.v[k]! - group.r / group.n : 0;
    const x = data.x[k]! - group.x / group.n;
    gg += g * g;
    rr += r * r;
    gr += g * r;
    gx += g * x;
    rx += r * x;
  }
  const determinant = gg * rr - gr * gr;
  const offset = coarse && determinant > 0 ? (rx * gg - gx * gr) / determinant : 0;
  const bounded = Math.max(-data.quantum, Math.min(data.quantum, offset));
  const lag = gg > 0 ? (gx - bounded * gr) / gg : 0;
  const longest = Math.max(0.5, data.interval);
  return { lag: Math.max(-longest, Math.min(longest, lag)), offset: bounded };
}

function nearest(clusters: readonly { readonly x: number }[], x: number): number {
  let best = 0;
  for (let c = 1; c < clusters.length; c++) {
    if (Math.abs(clusters[c]!.x - x) < Math.abs(clusters[best]!.x - x)) best = c;
  }
  return best;
}

/** Cluster (0..) of each measurement, -1 = none. */
function assigned(data: RatioSamples, clusters: readonly Cluster[], correction: Correction): Int8Array {
  const found = new Int8Array(data.x.length).fill(-1);
  for (let k = 0; k < found.length; k++) {
    const x = corrected(data, k, correction);
    if (Number.isNaN(x)) continue;
    const c = nearest(clusters, x);
    const step = Math.min(
      c > 0 ? clusters[c - 1]!.x - clusters[c]!.x : 1,
      c + 1 < clusters.length ? clusters[c]!.x - clusters[c + 1]!.x : 1,
    );
    const idling = Math.abs(data.n[k]! / data.idle - 1) < 0.03 && data.settled[k] === 0;
    if (!idling && Math.abs(x - clusters[c]!.x) <= Math.min(0.45 * step, Math.max(0.025, 3 * data.u[k]!))) found[k] = c;
  }
  // Where samples are dense, a lone one between others is the ratio passing by in a shift.
  if (data.interval < 0.3) {
    const least = Math.ceil(0.25 / data.interval);
    for (let k = 0; k < found.length; ) {
      let end = k;
      while (end < found.length && found[end] === found[k]) end++;
      if (found[k]! >= 0 && end - k < least) found.fill(-1, k, end);
      k = end;
    }
  }
  return found;
}

/** Between two measurements in one gear the car was in that gear. */
function rowGears(drive: Drive, data: RatioSamples, found: Int8Array): Float64Array {
  const gear = new Float64Array(drive.time.length).fill(Number.NaN);
  for (let k = 0; k < found.length; k++) {
    if (found[k]! < 0) continue;
    const row = data.row[k]!;
    gear[row] = found[k]! + 1;
    const joined =
      k + 1 < found.length && found[k + 1] === found[k] && data.time[k + 1]! - data.time[k]! < 3 * data.interval;
    if (joined) gear.fill(found[k]! + 1, row, data.row[k + 1]!);
  }
  return gear;
}

/** The gear that the gear channel names in most of a cluster's samples; NaN without a channel or a majority. */
function numberOf(
  drive: Drive,
  data: RatioSamples,
  found: Int8Array,
  cluster: Cluster,
  clusters: readonly Cluster[],
): number {
  const channel = samplesOf(drive).held('gear');
  if (channel === undefined || drive.channel('gear')!.quality.samples < 2) return Number.NaN;
  const counts = new Map<number, number>();
  let total = 0;
  const index = clusters.indexOf(cluster);
  for (let k = 0; k < found.length; k++) {
    if (found[k] !== index || data.settled[k]! === 0) continue;
    const g = channel[data.row[k]!]!;
    if (!(g >= 1)) continue;
    counts.set(g, (counts.get(g) ?? 0) + 1);
    total++;
  }
  for (const [g, count] of counts) if (count > 0.6 * total) return g;
  return Number.NaN;
}
