import { BLOCK } from './run.js';

/** How a set of knock-retard columns writes retard. */
type SignConvention = 'positive' | 'negative' | 'mixed' | 'none';

/** Share of non-zero samples on the other side of zero that is still noise. */
const NOISE_SHARE = 0.02;
/** Largest value on the other side (deg) that is still noise of a learned offset. */
const NOISE_SIZE = 0.5;

/** No control unit takes back more (deg): larger numbers are markers. */
const LARGEST = 60;

/**
 * Whether retard is logged as positive or as negative degrees, from all columns of the kind together: control units
 * only ever retard on knock, so one side of zero is empty. 'none' when every sample is 0 or NaN, 'mixed' when both
 * sides are used in earnest (then the column may be an ignition correction and not a retard).
 */
export function signConvention(columns: readonly Float64Array[]): SignConvention {
  const seen: Seen = { positive: 0, negative: 0, highest: 0, lowest: 0 };
  for (const values of columns)
    for (let from = 0; from < values.length; from += BLOCK)
      lookAt(values, from, Math.min(values.length, from + BLOCK), seen);
  const { positive, negative, highest, lowest } = seen;
  if (positive + negative === 0) return 'none';
  const isNoise = (count: number, size: number) =>
    count === 0 || (count <= NOISE_SHARE * (positive + negative) && size <= NOISE_SIZE);
  if (isNoise(negative, -lowest)) return 'positive';
  if (isNoise(positive, highest)) return 'negative';
  return 'mixed';
}

/** Samples on either side of zero, and the outermost. */
interface Seen {
  positive: number;
  negative: number;
  highest: number;
  lowest: number;
}

function lookAt(values: Float64Array, from: number, to: number, seen: Seen): void {
  let { positive, negative, highest, lowest } = seen;
  for (let i = from; i < to; i++) {
    const x = values[i]!;
    if (Math.abs(x) > LARGEST) continue;
    if (x > 0) {
      positive++;
      if (x > highest) highest = x;
    } else if (x < 0) {
      negative++;
      if (x < lowest) lowest = x;
    }
  }
  seen.positive = positive;
  seen.negative = negative;
  seen.highest = highest;
  seen.lowest = lowest;
}
