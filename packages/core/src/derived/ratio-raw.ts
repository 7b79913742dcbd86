import { median, quantileInPlace } from '../math/quantile.js';
import { modesOf } from './ratio-density.js';
import { COARSEST, type RatioSamples } from './ratio-samples.js';

/** A heap of ratios that was never held for two measurements: shift dips, or a gear hardly touched. No gear. */
export interface PassingRatio {
  /** rpm per km/h */
  readonly value: number;
  readonly samples: number;
}

/** Slowest speed that counts, km/h. */
const SLOWEST = 5;
/** Outside the outermost gears the band of a gear reaches this far in ln: about half a wide step. */
const OUTER = 0.33;

/**
 * Median of shaft speed over road speed exactly as logged, both of one row, within the band of each gear (to the
 * geometric mean with its neighbours): what a reader gets who aligns nothing. rpm per km/h; NaN when nothing lies there.
 */
export function apparentRatios(data: RatioSamples, x: readonly number[]): number[] {
  const inside = new Float64Array(data.x.length);
  return x.map((centre, c) => {
    const upper = c > 0 ? (x[c - 1]! + centre) / 2 : centre + OUTER;
    const lower = c + 1 < x.length ? (x[c + 1]! + centre) / 2 : centre - OUTER / 4;
    let count = 0;
    for (let k = 0; k < data.x.length; k++) {
      if (data.v[k]! > SLOWEST && data.x[k]! > lower && data.x[k]! < upper) inside[count++] = data.x[k]!;
    }
    return Math.exp(quantileInPlace(inside.subarray(0, count), 0.5));
  });
}

/** Heaps among the measurements that belong to no gear, where they stand closer than chance (Poisson, 2.5 sigma) puts them. */
export function passingRatios(data: RatioSamples, found: Int8Array, gears: readonly number[]): PassingRatio[] {
  const rest: number[] = [];
  for (let k = 0; k < found.length; k++) {
    const x = data.x[k]!;
    const moving = data.v[k]! > SLOWEST && data.u[k]! < COARSEST && Math.abs(data.n[k]! / data.idle - 1) > 0.02;
    if (found[k]! < 0 && moving && gears.every((gear) => Math.abs(x - gear) > 0.05)) rest.push(x);
  }
  const x = Float64Array.from(rest);
  const modes = modesOf(x, new Float64Array(x.length).fill(0.012), new Float64Array(x.length).fill(1));
  return modes.flatMap((mode): PassingRatio[] => {
    const inside = rest.filter((y) => Math.abs(y - mode.x) <= 0.02);
    const around = rest.filter((y) => Math.abs(y - mode.x) <= 0.12).length - inside.length;
    const chance = (around * 0.02) / 0.1;
    if (inside.length < 8 || inside.length < chance + 2.5 * Math.sqrt(chance)) return [];
    // The top of so thin a heap is chance: its middle is sought within half the distance of the closest gears.
    let middle = mode.x;
    for (let pass = 0; pass < 4; pass++) middle = median(rest.filter((y) => Math.abs(y - middle) <= 0.04));
    return [{ value: Math.exp(middle), samples: inside.length }];
  });
}
