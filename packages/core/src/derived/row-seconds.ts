import { recipe } from './recipe.js';
import { samplesOf } from './samples.js';

export const ROW_SECONDS = recipe<Float64Array>({
  id: 'rowSeconds',
  about:
    'Seconds that each row stands for: up to the next row; the last row, and a row before a gap of the recording, stand for one ordinary row only.',
  compute(drive) {
    const { time } = drive;
    const { spacing, maxStep } = samplesOf(drive);
    const seconds = new Float64Array(time.length).fill(spacing);
    for (let i = 0; i + 1 < time.length; i++) {
      const step = time[i + 1]! - time[i]!;
      if (step <= maxStep) seconds[i] = step;
    }
    return seconds;
  },
});

/** Sum of the seconds of the rows of a mask within rows `from` to `to`, inclusive; rows that are 0 do not count. */
export function maskedSeconds(
  mask: Uint8Array,
  seconds: Float64Array,
  from = 0,
  to: number = mask.length - 1,
): { readonly total: number; readonly stretches: number } {
  return { total: secondsOf(mask, seconds, from, to), stretches: stretchesOf(mask, from, to) };
}

function secondsOf(mask: Uint8Array, seconds: Float64Array, from: number, to: number): number {
  let total = 0;
  for (let i = Math.max(0, from); i <= to; i++) if (mask[i] === 1) total += seconds[i]!;
  return total;
}

function stretchesOf(mask: Uint8Array, from: number, to: number): number {
  let stretches = 0;
  let before = 0;
  for (let i = Math.max(0, from); i <= to; i++) {
    if (mask[i] === 1 && before !== 1) stretches++;
    before = mask[i]!;
  }
  return stretches;
}

/**
 * Standard uncertainty (s) of a time summed over stretches whose ends are known to one sample each: each end is
 * rectangular over one interval (JCGM 100:2008, 4.3.7).
 */
export function edgesUncertainty(stretches: number, interval: number): number {
  return Math.sqrt(2 * Math.max(0, stretches)) * (interval / Math.sqrt(12));
}
