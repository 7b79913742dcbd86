import { quantile } from './quantile.js';

/**
 * Nothing is looked at; no rows give none. At most about `most` of the rows, evenly spread, in their order; the same
 * array when there are no more. For medians and spreads of long recordings, whose neighbours repeat one another.
 */
export function evenly(rows: Int32Array, most: number): Int32Array {
  const every = Math.floor(rows.length / most);
  if (every < 2) return rows;
  const kept = new Int32Array(Math.floor((rows.length - 1) / every) + 1);
  for (let i = 0; i < kept.length; i++) kept[i] = rows[i * every]!;
  return kept;
}

/** Values that tell the middle of a long recording as well as all of them. */
const ENOUGH = 20_000;

/** NaN is skipped; empty gives NaN. Median of at most 40,000 of the values, evenly spread; exact when there are no more. */
export function middleOf(values: Float64Array): number {
  return levelOf(values, 0.5);
}

/** NaN is skipped; empty gives NaN. Quantile `p` of at most 40,000 of the values, evenly spread; exact when there are no more. */
export function levelOf(values: Float64Array, p: number): number {
  const every = Math.floor(values.length / ENOUGH);
  if (every < 2) return quantile(values, p);
  const some = new Float64Array(Math.floor((values.length - 1) / every) + 1);
  for (let i = 0; i < some.length; i++) some[i] = values[i * every]!;
  return quantile(some, p);
}

/** As {@link middleOf} of `length` values that are worked out where they are looked at. */
export function middleBy(length: number, valueAt: (index: number) => number): number {
  const every = Math.max(1, Math.floor(length / ENOUGH));
  const some = new Float64Array(Math.ceil(length / every));
  for (let i = 0; i < some.length; i++) some[i] = valueAt(i * every);
  return quantile(some, 0.5);
}

/** As {@link middleOf} of the values that are numbers, without a copy of them. */
export function middleOfTold(values: Float64Array): number {
  const count = toldCount(values);
  const every = Math.max(1, Math.floor(count / ENOUGH));
  const some = new Float64Array(Math.ceil(count / every));
  let passed = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i]!)) continue;
    if (passed % every === 0) some[passed / every] = values[i]!;
    passed++;
  }
  return quantile(some, 0.5);
}

function toldCount(values: Float64Array): number {
  let count = 0;
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) count++;
  return count;
}
