import type { Cluster } from './ratio-refined.js';
import type { RatioSamples, RatioSource } from './ratio-samples.js';
import type { Drive } from './recipe.js';
import { samplesOf } from './samples.js';

/** Corrected logarithms and how settled each is. */
export interface Points {
  readonly x: Float64Array;
  readonly settled: Uint8Array;
}

/** Distance to the nearer neighbour. */
export function roomOf(clusters: readonly Cluster[], c: number): number {
  const above = c > 0 ? clusters[c - 1]!.x - clusters[c]!.x : 1;
  const below = c + 1 < clusters.length ? clusters[c]!.x - clusters[c + 1]!.x : 1;
  return Math.min(above, below);
}

/** Index of the centre nearest to `x`. */
export function nearestOf(centres: Float64Array, x: number): number {
  let best = 0;
  for (let c = 1; c < centres.length; c++) {
    if (Math.abs(centres[c]! - x) < Math.abs(centres[best]! - x)) best = c;
  }
  return best;
}

/** Cluster (0..) of each measurement, -1 = none. */
export function assigned(data: RatioSamples, points: Points, clusters: readonly Cluster[]): Int8Array {
  const found = new Int8Array(data.x.length);
  assign(data, points, clusters, 0, found);
  return withoutLone(found, data.interval);
}

/** Cluster (0..) that each measurement from `from` on lies in by itself, -1 = none, into `found`, as many as that holds. */
export function assign(
  data: RatioSamples,
  points: Points,
  clusters: readonly Cluster[],
  from: number,
  found: Int8Array,
): void {
  const centres = Float64Array.from(clusters, ({ x }) => x);
  const rooms = Float64Array.from(clusters, (_, c) => 0.45 * roomOf(clusters, c));
  for (let i = 0; i < found.length; i++) {
    const k = from + i;
    const x = points.x[k]!;
    const c = Number.isNaN(x) ? 0 : nearestOf(centres, x);
    const reach = Math.min(rooms[c]!, Math.max(0.025, 3 * data.u[k]!));
    const idling = Math.abs(data.n[k]! / data.idle - 1) < 0.03 && points.settled[k] === 0;
    found[i] = !idling && Math.abs(x - centres[c]!) <= reach ? c : -1;
  }
}

/** Where samples are dense, a lone one between others is the ratio passing by in a shift: taken out of `found`. */
export function withoutLone(found: Int8Array, interval: number): Int8Array {
  if (interval >= 0.3) return found;
  const least = Math.ceil(0.25 / interval);
  for (let k = 0; k < found.length; ) {
    let end = k;
    while (end < found.length && found[end] === found[k]) end++;
    if (found[k]! >= 0 && end - k < least) found.fill(-1, k, end);
    k = end;
  }
  return found;
}

/** Two heaps that the gear column calls by one number are one gear, one of them with slip: the better founded stays. */
export function oncePerNumber(clusters: readonly Cluster[], numbers: readonly number[]): Cluster[] {
  return clusters.filter((a, i) =>
    clusters.every(
      (b, j) => i === j || !(numbers[i] === numbers[j]) || Math.abs(a.x - b.x) > 0.2 || a.weight > b.weight,
    ),
  );
}

/** Between two measurements in one gear the car was in that gear. */
export function rowGears(drive: Drive, { row, interval }: RatioSource, found: Int8Array): Float64Array {
  const { time } = drive;
  const gear = new Float64Array(time.length).fill(Number.NaN);
  for (let k = 0; k < found.length; k++) {
    if (found[k]! < 0) continue;
    const at = row[k]!;
    const next = k + 1 < found.length && found[k + 1] === found[k] ? row[k + 1]! : at;
    const joined = time[next]! - time[at]! < 3 * interval;
    gear[at] = found[k]! + 1;
    if (joined) for (let i = at + 1; i < next; i++) gear[i] = found[k]! + 1;
  }
  return gear;
}

/** Gear numbers that are looked for in the gear channel. */
const NUMBERS = 13;

/** Of each cluster the gear that the gear channel names in most of its samples; NaN without a channel or a majority. */
export function numbersOf(
  drive: Drive,
  data: RatioSamples,
  points: Points,
  found: Int8Array,
  clusters: number,
): number[] {
  const channel = samplesOf(drive).held('gear');
  const counts = new Float64Array(clusters * NUMBERS);
  if (channel !== undefined && drive.channel('gear')!.quality.samples >= 2) {
    for (let k = 0; k < found.length; k++) {
      if (found[k]! < 0 || points.settled[k]! === 0) continue;
      const g = channel[data.row[k]!]!;
      if (g >= 1 && g < NUMBERS) counts[found[k]! * NUMBERS + Math.round(g)]!++;
    }
  }
  return Array.from({ length: clusters }, (_, c) => {
    const own = counts.subarray(c * NUMBERS, (c + 1) * NUMBERS);
    const total = own.reduce((sum, count) => sum + count, 0);
    const most = own.reduce((best, count, g) => (count > own[best]! ? g : best), 0);
    return total > 0 && own[most]! > 0.6 * total ? most : Number.NaN;
  });
}
