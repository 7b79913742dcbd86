import type { Dialect, RawColumn, RawTable } from '../../src/recording/raw.js';

const DIALECT: Dialect = {
  encoding: 'utf-8',
  delimiter: ',',
  decimal: '.',
  headerLine: 1,
  timeFormat: 'seconds',
  confidence: { encoding: 1, delimiter: 1, decimal: 1, header: 1, time: 1 },
};

export interface ColumnSpec {
  readonly label: string;
  readonly unit?: string;
  readonly source?: string;
  /** Numbers, texts ('' = empty cell) or null for an empty cell. */
  readonly values: ArrayLike<number | string | null>;
}

/** A raw table as ingest would give it: one entry a column, all of one length, over `time` seconds. */
export function rawTable(time: ArrayLike<number>, specs: readonly ColumnSpec[]): RawTable {
  const rows = time.length;
  const timeColumn: RawColumn = {
    index: 0,
    label: 'Time',
    unitCell: 's',
    sourceCell: '',
    values: Float64Array.from(time),
    texts: [],
    rejected: 0,
    filled: rows,
  };
  return {
    dialect: DIALECT,
    time: Float64Array.from(time),
    rows,
    timeColumn: 0,
    columns: [timeColumn, ...specs.map((spec, k) => rawColumn(k + 1, spec, rows))],
    problems: [],
  };
}

function rawColumn(index: number, spec: ColumnSpec, rows: number): RawColumn {
  const values = new Float64Array(rows).fill(Number.NaN);
  const codes = new Uint8Array(rows);
  const texts: string[] = [];
  let filled = 0;
  for (let i = 0; i < rows; i++) {
    const cell = spec.values[i] ?? null;
    if (cell === null || cell === '') continue;
    if (typeof cell === 'number') {
      values[i] = cell;
      if (!Number.isNaN(cell)) filled++;
      continue;
    }
    let code = texts.indexOf(cell) + 1;
    if (code === 0) code = texts.push(cell);
    codes[i] = code;
    filled++;
  }
  const base = {
    index,
    label: spec.label,
    unitCell: spec.unit ?? '',
    sourceCell: spec.source ?? '',
    values,
    texts,
    rejected: 0,
    filled,
  };
  return texts.length > 0 ? { ...base, textCodes: codes } : base;
}

/** Row times of a regular recording. */
export function clock(seconds: number, rate: number): Float64Array {
  return Float64Array.from({ length: Math.round(seconds * rate) + 1 }, (_, i) => i / rate);
}

/** Samples of a function of time. */
export function sampled(time: ArrayLike<number>, f: (t: number, i: number) => number): Float64Array {
  return Float64Array.from({ length: time.length }, (_, i) => f(time[i]!, i));
}

/** The same samples rounded to a step and held for `hold` rows, as a slow channel in a fast log. */
export function held(values: ArrayLike<number>, hold: number, quantum = 0): Float64Array {
  return Float64Array.from({ length: values.length }, (_, i) => {
    const x = values[i - (i % hold)]!;
    return quantum > 0 ? Math.round(x / quantum) * quantum : x;
  });
}

/** Deterministic noise in -1..1 (linear congruential generator, Numerical Recipes constants). */
export function noise(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2147483648 - 1;
  };
}
