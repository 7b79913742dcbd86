import { linearRegression } from '../../math/linear-regression.js';
import { quantile } from '../../math/quantile.js';

export interface Ratio {
  /** % by which the first rolls faster. */
  readonly value: number;
  /** Standard uncertainty, points. */
  readonly u: number;
  readonly samples: number;
}

/** A ratio of one drive with the stretch that it was measured on. */
export interface Compared extends Ratio {
  readonly metres: number;
  /** Seconds of recording time from the first to the last usable row; NaN without one. */
  readonly from: number;
  readonly to: number;
  /** Eight of ten blocks lie between these, %. */
  readonly low: number;
  readonly high: number;
}

/** Independent measurements are taken to be this many metres apart: errors of neighbours are alike. */
const APART = 100;
/** Bias of a wheel speed that is rounded down and up alike, relative: what no averaging takes away. Common practice, no source. */
const FLOOR = 0.03;

/**
 * Log ratios block by block (100 m), regressed on the acceleration, which stands for axle torque: the intercept is the
 * ratio without driving creep. NaN blocks are skipped; fewer than 10 give NaN.
 */
export function ratioOf(
  a: Float64Array,
  b: Float64Array,
  torque: Float64Array | undefined,
  speed: Float64Array,
  time: Float64Array,
  usable: Uint8Array,
): Compared {
  const { x, y, metres, from, to } = blocksOf(a, b, torque ?? speed, torque !== undefined, speed, time, usable);
  const where = { metres, from, to, low: quantile(y, 0.1), high: quantile(y, 0.9), samples: y.length };
  if (y.length < 10) return { ...where, value: Number.NaN, u: Number.NaN };
  const line = linearRegression(x, y);
  // Without a spread of torque the slope is nothing, and the mean is the answer.
  if (torque === undefined || Number.isNaN(line.intercept) || !(line.interceptError < 0.3)) {
    const mean = y.reduce((sum, v) => sum + v, 0) / y.length;
    const variance = y.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (y.length - 1);
    // Driving creep of one axle at constant speed: 0.1 % (tyre stiffness 30 per load, road load 3 % of the weight).
    const u = Math.hypot(Math.sqrt(variance / y.length), FLOOR, torque === undefined ? 0.1 : 0.05);
    return { ...where, value: mean, u };
  }
  return { ...where, value: line.intercept, u: Math.hypot(line.interceptError, FLOOR) };
}

interface Blocks {
  /** Mean torque and % by which the first rolls faster, of each block. */
  readonly x: number[];
  readonly y: number[];
  readonly metres: number;
  readonly from: number;
  readonly to: number;
}

/** @param loaded false = `torque` is not known, and not looked at */
function blocksOf(
  a: Float64Array,
  b: Float64Array,
  torque: Float64Array,
  loaded: boolean,
  speed: Float64Array,
  time: Float64Array,
  usable: Uint8Array,
): Blocks {
  const x: number[] = [];
  const y: number[] = [];
  let metres = 0;
  let block = 0;
  let sumA = 0;
  let sumB = 0;
  let sumT = 0;
  let rows = 0;
  let from = Number.NaN;
  let to = Number.NaN;
  for (let i = 1; i < time.length; i++) {
    const dt = time[i]! - time[i - 1]!;
    const load = loaded ? torque[i]! : 0;
    const ok = usable[i] === 1 && dt < 2.5 && a[i]! > 0 && b[i]! > 0 && !Number.isNaN(load);
    if (ok) {
      if (Number.isNaN(from)) from = time[i - 1]!;
      to = time[i]!;
      sumA += a[i]!;
      sumB += b[i]!;
      sumT += load;
      rows++;
      metres += (speed[i]! / 3.6) * dt;
      block += (speed[i]! / 3.6) * dt;
    }
    if (block >= APART) {
      x.push(sumT / rows);
      y.push(100 * Math.log(sumA / sumB));
      block = 0;
      sumA = 0;
      sumB = 0;
      sumT = 0;
      rows = 0;
    }
  }
  return { x, y, metres, from, to };
}
