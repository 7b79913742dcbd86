import type { Cluster } from './ratio-refined.js';
import type { RatioSamples } from './ratio-samples.js';
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

export function nearest(clusters: readonly { readonly x: number }[], x: number): number {
  let best = 0;
  for (let c = 1; c < clusters.length; c++) {
    if (Math.abs(clusters[c]!.x - x) < Math.abs(clusters[best]!.x - x)) best = c;
  }
  return best;
}

/** Cluster (0..) of each measurement, -1 = none. */
export function assigned(data: RatioSamples, points: Points, clusters: readonly Cluster[]): Int8Array {
  const found = new Int8Array(data.x.length).fill(-1);
  for (let k = 0; k < found.length; k++) {
    const x = points.x[k]!;
    if (Number.isNaN(x)) continue;
    const c = nearest(clusters, x);
    const reach = Math.min(0.45 * roomOf(clusters, c), Math.max(0.025, 3 * data.u[k]!));
    const idling = Math.abs(data.n[k]! / data.idle - 1) < 0.03 && points.settled[k] === 0;
    if (!idling && Math.abs(x - clusters[c]!.x) <= reach) found[k] = c;
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

/** Two heaps that the gear column calls by one number are one gear, one of them with slip: the better founded stays. */
export function oncePerNumber(
  drive: Drive,
  data: RatioSamples,
  points: Points,
  clusters: readonly Cluster[],
): Cluster[] {
  const found = assigned(data, points, clusters);
  const numbers = numbersOf(drive, data, points, found, clusters.length);
  return clusters.filter((a, i) =>
    clusters.every(
      (b, j) => i === j || !(numbers[i] === numbers[j]) || Math.abs(a.x - b.x) > 0.2 || a.weight > b.weight,
    ),
  );
}

/** Between two measurements in one gear the car was in that gear. */
export function rowGears(drive: Drive, data: RatioSamples, found: Int8Array): Float64Array {
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
