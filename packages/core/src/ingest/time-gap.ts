import type { Problem } from '../recording/problem.js';
import type { RowLines } from './row-lines.js';

/** A step is a gap when it is more than this many typical steps, and more than `GAP_SECONDS`. */
const GAP_STEPS = 5;
const GAP_SECONDS = 0.5;
/** Gaps that are listed one by one; the rest is one entry. */
const MOST_GAPS = 100;

/**
 * Times without rows. The typical step is the 90th percentile, so that rows written on change do not make gaps.
 * @param most the longest step where it is known
 */
export function timeGaps(
  time: Float64Array,
  rows: readonly number[] | undefined,
  lines: RowLines,
  most = Number.POSITIVE_INFINITY,
): Problem[] {
  if (time.length < 3) return [];
  const stride = Math.max(1, Math.floor(time.length / 5_000));
  const sorted = new Float64Array(Math.floor((time.length - 2) / stride) + 1);
  for (let k = 0; k < sorted.length; k++) sorted[k] = time[1 + k * stride]! - time[k * stride]!;
  sorted.sort();
  const typical = sorted[Math.floor((sorted.length - 1) * 0.9)]!;
  // In a very short table one gap is more than a tenth of the steps.
  const least = sorted.length < 20 ? sorted[sorted.length >> 1]! : typical;
  const bound = Math.max(GAP_STEPS * least, GAP_SECONDS);
  if (most <= bound) return [];
  const found: Problem[] = [];
  let count = 0;
  for (let i = 1; i < time.length; i++) {
    const step = time[i]! - time[i - 1]!;
    if (!(step > bound)) continue;
    count++;
    if (count > MOST_GAPS) continue;
    found.push({
      code: 'time-gap',
      message: `no rows for ${Number(step.toPrecision(6))} s, usual are rows every ${Number(least.toPrecision(3))} s; what happened in between is not known`,
      line: lines.at(rows === undefined ? i : rows[i]!),
      from: time[i - 1]!,
      to: time[i]!,
    });
  }
  if (count > MOST_GAPS) {
    found.push({ code: 'time-gap', message: `${count - MOST_GAPS} further gaps`, count: count - MOST_GAPS });
  }
  return found;
}
