import { sortedQuantile } from '../math/sorted.js';
import { runScannerOf } from './compiled-runs.js';

/**
 * Runs of held values. Loggers repeat the last value of a channel until the control unit answers again, so a run of
 * equal samples is one measurement, not many.
 */
export interface Runs {
  /** How many runs. */
  readonly count: number;
  /** Index of the first sample of each run; only the first `count` entries count. */
  readonly starts: Int32Array;
  /** Smallest difference between neighbouring runs; 0 when the channel never changes. */
  readonly quantum: number;
  /** 10th percentile of the differences between neighbouring runs; 0 when the channel never changes. */
  readonly typicalStep: number;
  /** 75th percentile of the differences between neighbouring runs; 0 when the channel never changes. */
  readonly largeStep: number;
  /** Greatest difference between neighbouring runs; 0 when the channel never changes. */
  readonly greatestStep: number;
  readonly min: number;
  readonly max: number;
  /** Samples that are not NaN. */
  readonly samples: number;
}

const SAMPLE = 4096;

/** Differences below this share of the value are rounding of a decimal print, not steps of the channel. */
const ROUNDING = 1e-9;

/**
 * Finds the runs of equal values. NaN is no sample and is stepped over (a multi-rate column's empty cells); an empty
 * column gives no runs.
 * @param values samples of one channel
 * @param scratch at least `values.length` long; becomes `starts`. Where it is that of compiled code, that finds them
 */
export function scanRuns(values: Float64Array, scratch: Int32Array): Runs {
  scanned.set(scratch, values);
  const seen = runScannerOf(scratch)?.scan(values) ?? seenOf(values, scratch);
  const { count, samples, quantum, greatest, min, max } = seen;
  const steps = sampledSteps(values, scratch, count);
  return {
    count,
    starts: scratch,
    quantum: count > 1 ? quantum : 0,
    typicalStep: steps.length > 0 ? sortedQuantile(steps, 0.1) : 0,
    largeStep: steps.length > 0 ? sortedQuantile(steps, 0.75) : 0,
    greatestStep: greatest,
    // No -0: which of two zeros comes first is no matter.
    min: count > 0 ? min + 0 : Number.NaN,
    max: count > 0 ? max + 0 : Number.NaN,
    samples,
  };
}

/** Whose runs a scratch holds. */
const scanned = new WeakMap<Int32Array, Float64Array>();

/**
 * The same runs without memory of their own: `starts` is found again in the scratch when it is asked for, and holds until that
 * is used for another channel. The values must stay as they are.
 */
export function lazyRuns(runs: Runs, values: Float64Array, scratch: Int32Array): Runs {
  const { starts: _, ...facts } = runs;
  return {
    ...facts,
    get starts() {
      if (scanned.get(scratch) !== values) scanRuns(values, scratch);
      return scratch;
    },
  };
}

function seenOf(values: Float64Array, scratch: Int32Array): Seen {
  const seen: Seen = {
    count: 0,
    samples: 0,
    last: Number.NaN,
    min: Number.POSITIVE_INFINITY,
    max: Number.NEGATIVE_INFINITY,
    quantum: Number.POSITIVE_INFINITY,
    greatest: 0,
  };
  for (let from = 0; from < values.length; from += BLOCK)
    scanBlock(values, scratch, from, Math.min(values.length, from + BLOCK), seen);
  return seen;
}

/** What was seen of a column so far. */
interface Seen {
  count: number;
  samples: number;
  last: number;
  min: number;
  max: number;
  quantum: number;
  greatest: number;
}

/** Rows a call of a loop over a column: V8 compiles what is called often, and throws away what it compiled in the middle of one long loop. */
export const BLOCK = 1024;

function scanBlock(values: Float64Array, starts: Int32Array, from: number, to: number, seen: Seen): void {
  let { count, samples, last, min, max, quantum, greatest } = seen;
  for (let i = from; i < to; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    samples++;
    if (x === last) continue;
    if (x < min) min = x;
    if (x > max) max = x;
    if (count > 0) {
      const step = Math.abs(x - last);
      if (step <= ROUNDING * (Math.abs(x) + Math.abs(last))) continue;
      if (step < quantum) quantum = step;
      if (step > greatest) greatest = step;
    }
    starts[count++] = i;
    last = x;
  }
  seen.count = count;
  seen.samples = samples;
  seen.last = last;
  seen.min = min;
  seen.max = max;
  seen.quantum = quantum;
  seen.greatest = greatest;
}

/** Sorted absolute steps between neighbouring runs, thinned evenly to at most {@link SAMPLE}. */
function sampledSteps(values: Float64Array, starts: Int32Array, count: number): Float64Array {
  const stride = Math.max(1, Math.floor((count - 1) / SAMPLE));
  const steps = new Float64Array(count > 1 ? Math.floor((count - 2) / stride) + 1 : 0);
  for (let k = 1, n = 0; k < count; k += stride) steps[n++] = Math.abs(values[starts[k]!]! - values[starts[k - 1]!]!);
  return steps.sort();
}
