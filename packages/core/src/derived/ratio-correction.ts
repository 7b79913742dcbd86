import { sharpnessOf } from './ratio-density.js';
import type { RatioSamples } from './ratio-samples.js';

/** What stands between shaft speed and displayed road speed besides the ratio. */
export interface RatioCorrection {
  /** Seconds by which the shaft speed runs ahead of the road speed; driving slip of the tyres is in it too. */
  readonly lag: number;
  /** km/h that the road speed reads low (a display that cuts decimals). */
  readonly offset: number;
}

/**
 * ln(shaft speed / road speed) with lag and cut decimals taken out; NaN stays NaN. The road speed is read `lag` seconds
 * later, linear between measurements; beyond a gap or the end of the recording it is carried on by its slope.
 */
export function correctedRatios(data: RatioSamples, { lag, offset }: RatioCorrection, stride = 1): Float64Array {
  const count = Math.floor(data.x.length / stride);
  const x = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const k = i * stride;
    x[i] = data.x[k]! + Math.log(data.v[k]!) - Math.log(Math.max(0.1, speedAt(data, k, lag) + offset));
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
    const sharpness = sharpnessOf(correctedRatios(data, { lag, offset: 0 }, stride), u, w);
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
 * Within clusters: ln(ratio) = constant + lag * d ln v/dt + offset / v by least squares, the mean of each gear taken
 * out. The offset is looked for only where the display is coarse.
 * @param lag0 lag taken out already; what remains is added to it
 * @param member cluster of each measurement, -1 = none
 */
export function correctionOf(data: RatioSamples, lag0: number, member: Int8Array, clusters: number): RatioCorrection {
  const shifted = correctedRatios(data, { lag: lag0, offset: 0 });
  const groups = Array.from({ length: clusters }, () => ({ n: 0, g: 0, r: 0, x: 0 }));
  for (let k = 0; k < member.length; k++) {
    const group = groups[member[k]!];
    if (group === undefined) continue;
    group.n++;
    group.g += data.growth[k]!;
    group.r += 1 / data.v[k]!;
    group.x += shifted[k]!;
  }
  const coarse = data.quantum >= 0.4;
  let gg = 0;
  let rr = 0;
  let gr = 0;
  let gx = 0;
  let rx = 0;
  for (let k = 0; k < member.length; k++) {
    const group = groups[member[k]!];
    if (group === undefined) continue;
    const w = 1 / data.u[k]! ** 2;
    const g = data.growth[k]! - group.g / group.n;
    const r = coarse ? 1 / data.v[k]! - group.r / group.n : 0;
    const x = shifted[k]! - group.x / group.n;
    gg += w * g * g;
    rr += w * r * r;
    gr += w * g * r;
    gx += w * g * x;
    rx += w * r * x;
  }
  const determinant = gg * rr - gr * gr;
  const free = coarse && determinant > 1e-9 * gg * rr ? (rx * gg - gx * gr) / determinant : 0;
  const offset = Math.max(-data.quantum, Math.min(data.quantum, free));
  const lag = lag0 + (gg > 0 ? (gx - offset * gr) / gg : 0);
  const longest = longestLag(data);
  return { lag: Math.max(-longest, Math.min(longest, lag)), offset };
}
