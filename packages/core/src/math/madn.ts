import { finiteForNow } from './finite.js';
import { quantileInPlace } from './quantile.js';

/** 1 / normalQuantile(0.75), to the four digits that R's stats::mad and the literature use. */
export const MAD_TO_SIGMA = 1.4826;

/** NaN is skipped; empty gives NaN. 1.4826 times the median absolute deviation from the median (Hampel 1974). */
export function madn(values: ArrayLike<number>): number {
  const x = finiteForNow(values);
  const centre = quantileInPlace(x, 0.5);
  for (let i = 0; i < x.length; i++) x[i] = Math.abs(x[i]! - centre);
  return MAD_TO_SIGMA * quantileInPlace(x, 0.5);
}
