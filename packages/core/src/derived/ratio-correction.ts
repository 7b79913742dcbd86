import { sharpnessOf } from './ratio-density.js';
import type { RatioSamples } from './ratio-samples.js';

/** What stands between shaft speed and displayed road speed besides the ratio. */
export interface RatioCorrection {
  /** Seconds by which the shaft speed runs ahead of the road speed. */
  readonly lag: number;
  /** km/h that the road speed reads low (a display that cuts decimals). */
  readonly offset: number;
  /** rpm by which clutches slip by design while the engine pulls lightly. */
  readonly slip: number;
  /** Slip of the driven tyres as a share per (km/h)/s of acceleration; 0 where the driven wheels themselves were measured. */
  readonly tyres: number;
}

/**
 * ln(shaft speed / road speed) with lag and cut decimals taken out; NaN stays NaN. The road speed is read `lag` seconds
 * later, linear between measurements; beyond a gap or the end of the recording it is carried on by its slope.
 */
export function correctedRatios(data: RatioSamples, correction: RatioCorrection, stride = 1): Float64Array {
  const { lag, offset, slip, tyres } = correction;
  const count = Math.floor(data.x.length / stride);
  const x = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const k = i * stride;
    x[i] =
      data.x[k]! +
      Math.log(data.v[k]!) -
      Math.log(Math.max(0.1, speedAt(data, k, lag) + offset)) -
      slip * data.light[k]! -
      tyres * data.growth[k]! * data.v[k]!;
  }
  return x;
}

function speedAt({ time, v, growth, interval }: RatioSamples, k: number, lag: number): number {
  if (lag === 0) return v[k]!;
  const t = time[k]! + lag;
  const step = lag > 0 ? 1 : -1;
  let j = k;
  while (j + step >= 0 && j + step < v.length && (t - time[j + step]!) * step > 0) j += step;
  const other = j + step;
  const span = other >= 0 && other < v.length ? time[other]! - time[j]! : Number.NaN;
  const value = v[j]! + ((v[other]! - v[j]!) * (t - time[j]!)) / span;
  return Math.abs(span) < 3 * interval && value > 0 ? value : v[k]! * Math.exp(growth[k]! * lag);
}

/** Shares of the longest lag that are tried. */
const TRIED = [-1, -0.8, -0.6, -0.4, -0.2, 0, 0.2, 0.4, 0.6, 0.8, 1] as const;
/** Measurements that are enough to tell which lag is best. */
const ENOUGH = 20000;

/** Lag at which the ratios stand in the sharpest heaps, on a coarse grid; no knowledge of gears is needed. */
export function sharpestLag(data: RatioSamples, weight: Float64Array): number {
  const stride = Math.max(1, Math.floor(data.x.length / ENOUGH));
  const count = Math.floor(data.x.length / stride);
  const u = new Float64Array(count);
  const w = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    u[k] = data.u[k * stride]!;
    w[k] = weight[k * stride]!;
  }
  let best = 0;
  let sharpest = 0;
  for (const share of TRIED) {
    const lag = share * longestLag(data);
    const sharpness = sharpnessOf(correctedRatios(data, { lag, offset: 0, slip: 0, tyres: 0 }, stride), u, w);
    // A tie belongs to the smaller lag.
    if (sharpness > sharpest * 1.02 || (sharpness > sharpest && Math.abs(lag) < Math.abs(best))) {
      sharpest = sharpness;
      best = lag;
    }
  }
  return best;
}

function longestLag(data: RatioSamples): number {
  return Math.max(0.4, 0.8 * data.interval);
}

/**
 * Within clusters: ln(ratio) = constant + lag * d ln v/dt + offset / v + slip / n + tyres * dv/dt by least squares, the mean of each
 * gear taken out. The offset is looked for only where the display is coarse.
 * @param lag0 lag taken out already; what remains is added to it
 * @param member cluster of each measurement, -1 = none
 */
export function correctionOf(data: RatioSamples, lag0: number, member: Int8Array, clusters: number): RatioCorrection {
  const shifted = correctedRatios(data, { lag: lag0, offset: 0, slip: 0, tyres: 0 });
  const coarse = data.quantum >= 0.4;
  // Growth of speed, 1 / speed (coarse displays only), 1 / shaft speed at light load, acceleration (not the driven wheels).
  const columns = [
    data.growth,
    coarse ? data.v.map((v) => 1 / v) : undefined,
    data.light,
    data.geared ? undefined : data.growth.map((growth, k) => growth * data.v[k]!),
  ];
  const size = columns.length;
  const means = columns.map((column) => groupMeans(column, member, clusters));
  const level = groupMeans(shifted, member, clusters);
  const a = columns.map(() => columns.map(() => 0));
  const y = columns.map(() => 0);
  const r = columns.map(() => 0);
  for (let k = 0; k < member.length; k++) {
    const c = member[k]!;
    if (c < 0) continue;
    const w = 1 / (data.u[k]! * data.u[k]!);
    for (let i = 0; i < size; i++) r[i] = columns[i] === undefined ? 0 : columns[i]![k]! - means[i]![c]!;
    const x = shifted[k]! - level[c]!;
    for (let i = 0; i < size; i++) {
      y[i]! += w * r[i]! * x;
      for (let j = 0; j < size; j++) a[i]![j]! += w * r[i]! * r[j]!;
    }
  }
  const longest = longestLag(data);
  const bounds = [
    [-longest - lag0, longest - lag0],
    [-data.quantum, data.quantum],
    [0, MOST_SLIP],
    [0, MOST_TYRE],
  ] as const;
  const [lag, offset, slip, tyres] = bounded(a, y, bounds);
  return { lag: lag0 + lag!, offset: offset!, slip: slip!, tyres: tyres! };
}

/** Design slip of dual clutches and lock-up clutches ends here, rpm (rule catalogue: 20 to 80). */
const MOST_SLIP = 90;
/** Share per (km/h)/s: 6 % slip at 3.5 m/s2, wet road (rule catalogue: tyres slip 2 to 6 % under load). */
const MOST_TYRE = 0.06 / (3.5 * 3.6);

function groupMeans(column: Float64Array | undefined, member: Int8Array, clusters: number): Float64Array {
  const sums = new Float64Array(clusters);
  const counts = new Float64Array(clusters);
  if (column === undefined) return sums;
  for (let k = 0; k < member.length; k++) {
    const c = member[k]!;
    if (c < 0) continue;
    sums[c]! += column[k]!;
    counts[c]!++;
  }
  return sums.map((sum, c) => sum / Math.max(1, counts[c]!));
}

/** Least squares within bounds by coordinate descent (Gauss-Seidel): few unknowns, well scaled by their own diagonal. */
function bounded(
  a: readonly (readonly number[])[],
  y: readonly number[],
  bounds: readonly (readonly [number, number])[],
): number[] {
  const x = y.map(() => 0);
  for (let pass = 0; pass < 100; pass++) {
    for (let i = 0; i < x.length; i++) {
      const diagonal = a[i]![i]!;
      if (!(diagonal > 0)) continue;
      let rest = y[i]!;
      for (let j = 0; j < x.length; j++) if (j !== i) rest -= a[i]![j]! * x[j]!;
      x[i] = Math.max(bounds[i]![0], Math.min(bounds[i]![1], rest / diagonal));
    }
  }
  return x;
}
