import { createReadStream } from 'node:fs';
import { delimiterOf, type Form } from './data.js';
import { loadPolars } from './peers.js';

/** What a method is given: the file and how it is written. Ours finds out for itself. */
export interface Task {
  readonly path: string;
  readonly form: Form;
  readonly threads: number;
  readonly size: number;
}

/** Every column decoded; `sums` is asked for after the clock has stopped. */
export interface Decoded {
  readonly rows: number;
  readonly sums: () => Promise<readonly number[]> | readonly number[];
}

export type Method = (task: Task) => Promise<Decoded>;

/** Sum with compensation (A. Neumaier, 1974), so that the order of addition does not show. NaN = no sample. */
export function sumOf(values: ArrayLike<number>, rows: number): number {
  let sum = 0;
  let lost = 0;
  for (let i = 0; i < rows; i++) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    const next = sum + value;
    lost += Math.abs(sum) >= Math.abs(value) ? sum - next + value : value - next + sum;
    sum = next;
  }
  return sum + lost;
}

/** Columns of numbers that grow as rows come; what a program around a text parser has to do. */
class Columns {
  rows = 0;
  private values: Float64Array[] = [];
  private capacity = 1 << 16;

  constructor(private readonly comma: boolean) {}

  add(cells: readonly (string | null)[]): void {
    if (this.values.length === 0) this.values = cells.map(() => new Float64Array(this.capacity));
    if (cells.length < this.values.length) return;
    if (this.rows === this.capacity) this.grow();
    for (let i = 0; i < this.values.length; i++) {
      const cell = cells[i]!;
      const empty = cell === '' || cell === null;
      this.values[i]![this.rows] = empty ? Number.NaN : Number(this.comma ? cell.replace(',', '.') : cell);
    }
    this.rows++;
  }

  private grow(): void {
    this.capacity *= 2;
    this.values = this.values.map((old) => {
      const wider = new Float64Array(this.capacity);
      wider.set(old);
      return wider;
    });
  }

  decoded(): Decoded {
    return { rows: this.rows, sums: () => this.values.map((values) => sumOf(values, this.rows)) };
  }
}

/** papaparse as a stream of 64 KiB, each cell by `Number`. */
export const papaparse: Method = async ({ path, form }) => {
  const { default: Papa } = await import('papaparse');
  const columns = new Columns(form === 'decimal-comma');
  let header = true;
  await new Promise<void>((resolve, reject) => {
    Papa.parse<string[]>(createReadStream(path, { highWaterMark: 64 << 10, encoding: 'utf8' }), {
      delimiter: delimiterOf(form),
      newline: '\n',
      chunk: ({ data }) => {
        for (let i = header ? 1 : 0; i < data.length; i++) columns.add(data[i]!);
        header = false;
      },
      complete: () => resolve(),
      error: reject,
    });
  });
  return columns.decoded();
};

/** The fastest parser in plain JavaScript that we know of, as a stream of 64 KiB, each cell by `Number`. */
export const udsv: Method = async ({ path, form }) => {
  const { inferSchema, initParser } = await import('udsv');
  const columns = new Columns(form === 'decimal-comma');
  let parser: ReturnType<typeof initParser> | undefined;
  const take = (row: string[]) => columns.add(row);
  for await (const piece of createReadStream(path, { highWaterMark: 64 << 10, encoding: 'utf8' })) {
    parser ??= initParser(inferSchema(piece as string));
    parser.chunk<string[]>(piece as string, parser.stringArrs, take);
  }
  parser?.end();
  return columns.decoded();
};

/** DuckDB into a table in memory, types found by itself. */
export const duckdb: Method = async ({ path, form, threads }) => {
  const { DuckDBInstance } = await import('@duckdb/node-api');
  const instance = await DuckDBInstance.create(':memory:', { threads: String(threads) });
  const connection = await instance.connect();
  const quoted = path.replaceAll("'", "''");
  const comma = form === 'decimal-comma' ? ", decimal_separator=','" : '';
  await connection.run(
    `create table t as select * from read_csv('${quoted}', header=true, delim='${delimiterOf(form)}'${comma})`,
  );
  const first = async (sql: string) => (await connection.runAndReadAll(sql)).getRows()[0]!.map(Number);
  const [rows] = await first('select count(*) from t');
  return { rows: rows!, sums: () => first('select fsum(columns(*)::double) from t') };
};

/** Polars into a data frame, types found by itself. */
export const polars: Method = async ({ path, form }) => {
  const pl = loadPolars();
  const comma = form === 'decimal-comma';
  // Whole numbers at the top of a column do not make it one of whole numbers.
  const frame = comma
    ? pl.scanCSV(path, { sep: ';', decimalComma: true, inferSchemaLength: 1000 }).collectSync()
    : pl.readCSV(path, { inferSchemaLength: 1000 });
  return {
    rows: frame.height,
    sums: () => frame.columns.map((name) => sumOf(frame.getColumn(name).cast(pl.Float64).toTypedArray(), frame.height)),
  };
};
