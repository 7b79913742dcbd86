import { BLOCK } from './run.js';

/** How a fuel trim is written: percent around 0 or a factor around 1. */
type TrimForm = 'percent' | 'factor' | 'open';

/** Share of samples that may be exactly 0 before the engine runs without counting against a factor. */
const REST = 0.2;

/**
 * Tells factor from percent by the values. A factor never comes near 0 and lies close around 1 in fine steps; percent
 * crosses or rests at 0, or leaves 0.5 to 1.6. Always exactly 1 is open: a resting factor, or 1 % for ever.
 * NaN is stepped over, and so are exact zeros when they are few (engine at rest).
 */
export function trimForm(values: Float64Array): TrimForm {
  const seen: Seen = {
    samples: 0,
    zeros: 0,
    min: Number.POSITIVE_INFINITY,
    max: Number.NEGATIVE_INFINITY,
    smallest: Number.POSITIVE_INFINITY,
    last: Number.NaN,
  };
  for (let from = 0; from < values.length; from += BLOCK)
    lookAt(values, from, Math.min(values.length, from + BLOCK), seen);
  const { samples, zeros, min, max, smallest } = seen;
  if (samples < 10 || zeros === samples) return 'open';
  if (min < 0.5 || max > 1.6 || zeros > REST * samples) return 'percent';
  if (min === max) return 'open';
  // One step of a percent trim is 100/128 = 0.78 (SAE J1979); of a factor 1/128 = 0.0078 or finer.
  return smallest < 0.05 && min < 1.05 && max > 0.95 ? 'factor' : 'open';
}

interface Seen {
  samples: number;
  zeros: number;
  min: number;
  max: number;
  /** Smallest step between samples that are not 0. */
  smallest: number;
  last: number;
}

function lookAt(values: Float64Array, from: number, to: number, seen: Seen): void {
  let { samples, zeros, min, max, smallest, last } = seen;
  for (let i = from; i < to; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    samples++;
    if (x === 0) {
      zeros++;
      continue;
    }
    if (x < min) min = x;
    if (x > max) max = x;
    const step = Math.abs(x - last);
    if (step > 1e-9 && step < smallest) smallest = step;
    last = x;
  }
  seen.samples = samples;
  seen.zeros = zeros;
  seen.min = min;
  seen.max = max;
  seen.smallest = smallest;
  seen.last = last;
}
