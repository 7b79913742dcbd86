import { firstAtOrAfter } from '../derived/intervals.js';

/** Points of a figure: every row of the stretch, or two a bucket of equal time. */
export interface Grid {
  /** Seconds, ascending. */
  readonly time: Float64Array;
  /** First row of each bucket and, last, the row after all; one row a bucket where nothing is thinned. */
  readonly edges: Int32Array;
  /** Points a bucket: 1 = a row each, 2 = least and greatest. */
  readonly points: 1 | 2;
  /** Seconds of a bucket, 0 where nothing is thinned. */
  readonly step: number;
}

/**
 * Points for the rows from `from` to `to` (s), at most `most`. A bucket without a row makes no point.
 * @param time seconds, ascending
 */
export function gridOf(time: Float64Array, from: number, to: number, most: number): Grid {
  const start = firstAtOrAfter(time, from);
  let end = firstAtOrAfter(time, to);
  if (end < time.length && time[end] === to) end++;
  if (end - start <= most) {
    const edges = new Int32Array(Math.max(1, end - start + 1));
    for (let k = 0; k < edges.length; k++) edges[k] = start + k;
    return { time: time.slice(start, Math.max(start, end)), edges, points: 1, step: 0 };
  }
  const buckets = Math.max(1, Math.floor(most / 2));
  const first = time[start]!;
  const step = (time[end - 1]! - first) / buckets;
  const edges: number[] = [];
  const times: number[] = [];
  for (let k = 0, row = start; k < buckets && row < end; k++) {
    const next = k === buckets - 1 ? end : Math.min(end, firstAtOrAfter(time, first + (k + 1) * step));
    if (next === row) continue;
    edges.push(row);
    const [a, b] = [time[row]!, time[next - 1]!];
    // A lone row takes both points, the second a little later: the axis ascends.
    times.push(a, b > a ? b : a + Math.min(step, (time[next] ?? a + step) - a) / 2);
    row = next;
  }
  edges.push(end);
  return { time: Float64Array.from(times), edges: Int32Array.from(edges), points: 2, step };
}

/**
 * Values at the points of a grid. Of a bucket the least and the greatest, in the order in which they came, so that no
 * extreme is lost; a bucket with one sample gives it once. NaN is no sample, and gives null where nothing else is there.
 */
export function thinned(values: Float64Array, grid: Grid): (number | null)[] {
  const { edges, points } = grid;
  const found: (number | null)[] = [];
  for (let k = 0; k + 1 < edges.length; k++) {
    if (points === 1) {
      const value = values[edges[k]!]!;
      found.push(Number.isNaN(value) ? null : value);
      continue;
    }
    let low = -1;
    let high = -1;
    for (let i = edges[k]!; i < edges[k + 1]!; i++) {
      const value = values[i]!;
      if (Number.isNaN(value)) continue;
      if (low < 0 || value < values[low]!) low = i;
      if (high < 0 || value > values[high]!) high = i;
    }
    if (low < 0) found.push(null, null);
    else if (low === high) found.push(values[low]!, null);
    else found.push(values[Math.min(low, high)]!, values[Math.max(low, high)]!);
  }
  return found;
}

/** Seconds without a point up to which a trace's line goes on: what its samples allow, and no less than two buckets. */
export function bridged(bridge: number, { step }: Grid): number {
  return Math.max(bridge, 2.1 * step);
}
