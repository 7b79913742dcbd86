import { rootBetween } from './root.js';
import { studentProbability } from './student.js';

/** One part of a mixture: Student's t about `location`; a scale of 0 is certainty. */
export interface StudentPart {
  /** Share; all parts together give 1. */
  readonly weight: number;
  readonly location: number;
  readonly scale: number;
  readonly degrees: number;
}

/** No NaN allowed; no parts give 0. Cumulative probability of a mixture of Student's t. */
export function mixtureProbability(parts: readonly StudentPart[], x: number): number {
  let sum = 0;
  for (const { weight, location, scale, degrees } of parts) {
    if (scale > 0) sum += weight * studentProbability((x - location) / scale, degrees);
    else sum += x >= location ? weight : 0;
  }
  return sum;
}

/** No parts give NaN; `p` outside (0, 1) throws RangeError. Quantile to 1e-8 of the width of the whole. */
export function mixtureQuantile(parts: readonly StudentPart[], p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`mixtureQuantile: p is ${p}, expected above 0 and below 1`);
  if (parts.length === 0) return Number.NaN;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const { location, scale } of parts) {
    low = Math.min(low, location - 2 * scale);
    high = Math.max(high, location + 2 * scale);
  }
  const width = high - low;
  if (!(width > 0)) return low;
  for (let step = width; mixtureProbability(parts, low) >= p; step *= 2) low -= step;
  for (let step = width; mixtureProbability(parts, high) < p; step *= 2) high += step;
  return rootBetween((x) => mixtureProbability(parts, x) - p, low, high, 1e-8 * width);
}
