import { sharpnessOf } from './ratio-density.js';
import { fitted, reweigh } from './ratio-fit.js';
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
  /** Covariance of the four (lag, offset, slip, tyres), row by row; zeros for what was not looked for. */
  readonly covariance: readonly (readonly number[])[];
}

/** Nothing known but a lag. */
export function lagOnly(lag: number): RatioCorrection {
  return { lag, offset: 0, slip: 0, tyres: 0, covariance: [] };
}

/**
 * ln(shaft speed / road speed) with lag and cut decimals taken out; NaN stays NaN. The road speed is read `lag` seconds
 * later, linear between measurements; beyond a gap or the end of the recording it is carried on by its slope.
 * @param x memory for the answer
 */
export function correctedRatios(
  data: RatioSamples,
  correction: RatioCorrection,
  stride = 1,
  x: Float64Array = new Float64Array(Math.floor(data.x.length / stride)),
): Float64Array {
  speedsAt(data, correction.lag, stride, x);
  corrected(data, correction, stride, x);
  return x;
}

/** The corrected ratios, where `x` holds the speeds that belong to them. */
function corrected(
  data: RatioSamples,
  { offset, slip, tyres }: RatioCorrection,
  stride: number,
  x: Float64Array,
): void {
  for (let i = 0; i < x.length; i++) {
    const k = i * stride;
    x[i] =
      data.x[k]! +
      Math.log(data.v[k]!) -
      Math.log(Math.max(0.1, x[i]! + offset)) -
      slip * data.light[k]! -
      tyres * data.growth[k]! * data.v[k]!;
  }
}

/** Road speeds `lag` seconds after every `stride`-th measurement, into `speeds`; see {@link correctedRatios}. */
function speedsAt(data: RatioSamples, lag: number, stride: number, speeds: Float64Array): void {
  if (lag > 0) ahead(data, lag, stride, speeds);
  else if (lag < 0) behind(data, lag, stride, speeds);
  else for (let i = 0; i < speeds.length; i++) speeds[i] = data.v[i * stride]!;
}

// The moment asked for moves on as the measurements do, and so does the last one before it.

function ahead(data: RatioSamples, lag: number, stride: number, speeds: Float64Array): void {
  const { time } = data;
  let near = 0;
  for (let i = 0; i < speeds.length; i++) {
    const t = time[i * stride]! + lag;
    if (near < i * stride) near = i * stride;
    while (near + 1 < time.length && time[near + 1]! < t) near++;
    speeds[i] = near + 1 < time.length ? drawn(data, near, near + 1, i * stride, lag) : carried(data, i * stride, lag);
  }
}

function behind(data: RatioSamples, lag: number, stride: number, speeds: Float64Array): void {
  const { time } = data;
  let near = 0;
  for (let i = 0; i < speeds.length; i++) {
    const t = time[i * stride]! + lag;
    while (near < i * stride && time[near]! <= t) near++;
    speeds[i] = near > 0 ? drawn(data, near, near - 1, i * stride, lag) : carried(data, i * stride, lag);
  }
}

/** On the line through two measurements, `lag` seconds after measurement `k`; carried on where they stand far apart. */
function drawn(data: RatioSamples, near: number, far: number, k: number, lag: number): number {
  const { time, v, interval } = data;
  const span = time[far]! - time[near]!;
  const value = v[near]! + ((v[far]! - v[near]!) * (time[k]! + lag - time[near]!)) / span;
  return Math.abs(span) < 3 * interval && value > 0 ? value : carried(data, k, lag);
}

/** By its slope from measurement `k`. */
function carried({ v, growth }: RatioSamples, k: number, lag: number): number {
  return v[k]! * Math.exp(growth[k]! * lag);
}

/** Shares of the longest lag that are tried. */
const TRIED = [-1, -0.8, -0.6, -0.4, -0.2, 0, 0.2, 0.4, 0.6, 0.8, 1] as const;
/** Measurements that are enough to tell which lag is best. */
const ENOUGH = 8000;

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
    const sharpness = sharpnessOf(correctedRatios(data, lagOnly(lag), stride), u, w);
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

/** Rounds of the fit. */
const ROUNDS = 3;
/** Slower than this (s) a closing clutch is one sample, and what is late looks like outliers: every measurement has its say. */
const DENSE = 0.3;

/** Design slip of dual clutches and lock-up clutches ends here, rpm (rule catalogue: 20 to 80). */
const MOST_SLIP = 90;
/** Share per (km/h)/s: 6 % slip at 3.5 m/s2, wet road (rule catalogue: tyres slip 2 to 6 % under load). */
const MOST_TYRE = 0.06 / (3.5 * 3.6);
/** Quanta by which a coarse display reads low: half of one where it cuts decimals, none where it rounds, and what a fit may be off. */
const CUT = [-0.1, 0.6] as const;

/**
 * Within clusters: ln(ratio) = constant + lag * d ln v/dt + offset / v + slip / n + tyres * dv/dt by least squares with
 * biweights (Mosteller & Tukey, Data Analysis and Regression, 1977, ch. 10), one constant for each gear: a clutch that is
 * still closing, or slips under load, is not taken for a late channel. The offset is looked for only where the display
 * is coarse, the slip of tyres only where the driven wheels were not measured.
 * @param lag0 lag taken out already; what remains is added to it
 * @param member cluster of each measurement, -1 = none
 */
export function correctionOf(data: RatioSamples, lag0: number, member: Int8Array, clusters: number): RatioCorrection {
  const shifted = shiftedMembers(data, lag0, member);
  const coarse = data.quantum >= 0.4;
  const columns = [
    data.growth,
    coarse ? slowness(data) : undefined,
    data.light,
    data.geared ? undefined : acceleration(data),
  ];
  const longest = longestLag(data);
  const bounds = [
    [-longest - lag0, longest - lag0],
    [CUT[0] * data.quantum, CUT[1] * data.quantum],
    [0, MOST_SLIP],
    [0, MOST_TYRE],
  ] as const;
  const weight = certainty(data.u, member);
  let found = fitted(shifted, columns, bounds, weight, member, clusters);
  for (let round = 1; round < (data.interval < DENSE ? ROUNDS : 1); round++) {
    reweigh(data, found.residual, member, weight);
    found = fitted(shifted, columns, bounds, weight, member, clusters);
  }
  const [lag, offset, slip, tyres] = found.x;
  const covariance = covarianceOf(data, found.a, found.residual, bounds, weight, member);
  return { lag: lag0 + lag!, offset: offset!, slip: slip!, tyres: tyres!, covariance };
}

/** Of each member the inverse square of its uncertainty; 0 of all others. */
function certainty(u: Float64Array, member: Int8Array): Float64Array {
  const weight = new Float64Array(member.length);
  for (let k = 0; k < member.length; k++) if (member[k]! >= 0) weight[k] = 1 / (u[k]! * u[k]!);
  return weight;
}

/** `correctedRatios` of the members alone. */
function shiftedMembers(data: RatioSamples, lag: number, member: Int8Array): Float64Array {
  const x = new Float64Array(member.length);
  speedsAt(data, lag, 1, x);
  for (let k = 0; k < x.length; k++)
    x[k] = member[k]! < 0 ? Number.NaN : data.x[k]! + Math.log(data.v[k]!) - Math.log(Math.max(0.1, x[k]!));
  return x;
}

function slowness({ v }: RatioSamples): Float64Array {
  const found = new Float64Array(v.length);
  for (let k = 0; k < v.length; k++) found[k] = 1 / v[k]!;
  return found;
}

function acceleration({ v, growth }: RatioSamples): Float64Array {
  const found = new Float64Array(v.length);
  for (let k = 0; k < v.length; k++) found[k] = growth[k]! * v[k]!;
  return found;
}

/**
 * Inverse of the normal equations times the scatter that is left (JCGM 100, H.3; Draper & Smith, Applied Regression
 * Analysis, ch. 1); measurements within a second count as one, and the bounds as rectangular knowledge.
 */
function covarianceOf(
  data: RatioSamples,
  a: readonly (readonly number[])[],
  residual: Float64Array,
  bounds: readonly (readonly [number, number])[],
  weight: Float64Array,
  member: Int8Array,
): number[][] {
  const scale = Math.max(1, meanSquare(residual, weight, member)) * Math.max(1, 1 / data.interval);
  const active = a.map((row, i) => row[i]! > 0);
  const size = a.length;
  // Gauss-Jordan with the identity beside it; what was not looked for stays out.
  const m = a.map((row, i) => {
    const [low, high] = bounds[i]!;
    const known = 12 / (high - low) ** 2;
    const left = row.map((x, j) => (active[i] && active[j] ? x / scale + (i === j ? known : 0) : i === j ? 1 : 0));
    return [...left, ...row.map((_, j) => (i === j && active[i] ? 1 : 0))];
  });
  for (let i = 0; i < size; i++) {
    const pivot = m[i]![i]!;
    for (let j = 0; j < 2 * size; j++) m[i]![j]! /= pivot;
    for (let o = 0; o < size; o++) {
      const factor = o === i ? 0 : m[o]![i]!;
      for (let j = 0; j < 2 * size; j++) m[o]![j]! -= factor * m[i]![j]!;
    }
  }
  return m.map((row) => row.slice(size));
}

/** Weighted squares of the members that have a say, over their number; 0 without any. */
function meanSquare(residual: Float64Array, weight: Float64Array, member: Int8Array): number {
  let total = 0;
  let count = 0;
  for (let k = 0; k < member.length; k++) {
    if (member[k]! < 0 || weight[k] === 0) continue;
    total += weight[k]! * residual[k]! ** 2;
    count++;
  }
  return total / Math.max(1, count);
}

/** Standard uncertainty that the correction leaves in a gear with these mean regressors (growth, 1 / v, light, growth x v). */
export function correctionU({ covariance }: RatioCorrection, regressors: readonly number[]): number {
  let variance = 0;
  covariance.forEach((row, i) => {
    row.forEach((x, j) => {
      variance += x * regressors[i]! * regressors[j]!;
    });
  });
  return Math.sqrt(Math.max(0, variance));
}

/** Lag is known to a tenth of the sample interval at best (see aligned.ts). */
const LAG_FLOOR = 0.1;

/** Standard uncertainty of the lag (s): what the fit leaves, no less than the sampling hides. */
export function lagDoubt({ covariance }: RatioCorrection, interval: number): number {
  return Math.hypot(Math.sqrt(Math.max(0, covariance[0]?.[0] ?? 0)), LAG_FLOOR * interval);
}
