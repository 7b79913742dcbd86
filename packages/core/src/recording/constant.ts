import { BLOCK } from './run.js';

/** A column of one value. */
export interface Constant {
  /** The first sample and its row; NaN and -1 where there is none. */
  readonly value: number;
  readonly row: number;
  /** Samples that are not NaN. */
  readonly samples: number;
}

/** Asked of the same values by the choice of the unit and by what is supported. */
const known = new WeakMap<Float64Array, Constant | null>();

/** What a column holds that never changes; undefined when it does. NaN is no sample. */
export function constantOf(values: Float64Array): Constant | undefined {
  let constant = known.get(values);
  if (constant === undefined) {
    constant = lookFor(values);
    known.set(values, constant);
  }
  return constant ?? undefined;
}

function lookFor(values: Float64Array): Constant | null {
  const row = values.findIndex((x) => !Number.isNaN(x));
  if (row < 0) return { value: Number.NaN, row, samples: 0 };
  const value = values[row]!;
  let samples = 0;
  for (let from = row; from < values.length; from += BLOCK) {
    const equal = equalIn(values, from, Math.min(values.length, from + BLOCK), value);
    if (equal < 0) return null;
    samples += equal;
  }
  return { value, row, samples };
}

/** How many samples are `value`; -1 when one is another. */
function equalIn(values: Float64Array, from: number, to: number, value: number): number {
  let equal = 0;
  for (let i = from; i < to; i++) {
    const x = values[i]!;
    if (x === value) equal++;
    else if (!Number.isNaN(x)) return -1;
  }
  return equal;
}
