import { existsSync } from 'node:fs';
import { mkdir, readdir, rename, rm, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import type { LogbookNote } from '@telltale/core';
import type { ParquetWriteOptions } from 'hyparquet-writer';
import { UserError } from '../exit-code.js';
import type { Book, StoredDrive } from './book.js';

/** Written beside the data; engines pass over names that begin with `_`. Tells an export that may be replaced. */
const MARK = '_telltale.json';

type SchemaElement = NonNullable<ParquetWriteOptions['schema']>[number];
type Cell = string | number | Date | null;

/**
 * Types that every engine knows, none of them nested (parquet.apache.org/docs/file-format/types). `local` is a time by the
 * clock where the drive was (TIMESTAMP, microseconds, isAdjustedToUTC = false), `utc` a moment. Cells of `local` and `utc`
 * are dates whose UTC fields are what is meant.
 */
const TYPES = {
  text: { type: 'BYTE_ARRAY', converted_type: 'UTF8', logical_type: { type: 'STRING' } },
  number: { type: 'DOUBLE' },
  local: { type: 'INT64', logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: false, unit: 'MICROS' } },
  utc: {
    type: 'INT64',
    converted_type: 'TIMESTAMP_MICROS',
    logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: true, unit: 'MICROS' },
  },
} as const satisfies Record<string, Partial<SchemaElement>>;

/** Names are lower case: some engines do not tell the cases apart. */
type Column<Row> = readonly [name: string, type: keyof typeof TYPES, of: (row: Row) => Cell];

const DRIVE: readonly Column<StoredDrive>[] = [
  ['label', 'text', (d) => d.car],
  ['hash', 'text', (d) => d.hash],
  ['recorded_at', 'local', (d) => timeOf(d.recordedAt)],
  ['distance_km', 'number', (d) => d.distance],
  ['engine_hours', 'number', (d) => d.engineHours],
  ['ambient_temperature_degc', 'number', (d) => d.covariates.ambientTemperature],
  ['load', 'number', (d) => d.covariates.load],
  ['altitude_m', 'number', (d) => d.covariates.altitude],
  ['ethanol_share', 'number', (d) => d.covariates.fuel],
  ['level', 'text', (d) => d.summary.level],
  ['coverage', 'number', (d) => d.summary.coverage],
  ['index_low', 'number', (d) => d.summary.index.low],
  ['index_high', 'number', (d) => d.summary.index.high],
  ['findings', 'text', (d) => JSON.stringify(d.summary.findings)],
  ['unproven', 'text', (d) => JSON.stringify(d.summary.unproven)],
  ['file', 'text', (d) => d.provenance.file],
  ['version', 'text', (d) => d.provenance.version],
  ['added_at', 'utc', (d) => timeOf(d.provenance.addedAt)],
];

interface ValueRow {
  readonly drive: StoredDrive;
  readonly measure: StoredDrive['measures'][number];
}

const VALUE: readonly Column<ValueRow>[] = [
  ['label', 'text', (r) => r.drive.car],
  ['hash', 'text', (r) => r.drive.hash],
  ['recorded_at', 'local', (r) => timeOf(r.drive.recordedAt)],
  ['distance_km', 'number', (r) => r.drive.distance],
  ['measure', 'text', (r) => r.measure.id],
  ['unit', 'text', (r) => r.measure.unit],
  ['value', 'number', (r) => r.measure.value],
  ['standard_error', 'number', (r) => r.measure.standardError],
  ['samples', 'number', (r) => r.measure.samples],
];

const NOTE: readonly Column<LogbookNote>[] = [
  ['label', 'text', (n) => n.car],
  ['noted_at', 'local', (n) => timeOf(n.date)],
  ['distance_km', 'number', (n) => n.distance],
  ['kind', 'text', (n) => n.kind],
  ['text', 'text', (n) => n.text],
];

/** An ISO 8601 date, or date and time, as the fields of a time without a zone; null for a text that is none (old books). */
function timeOf(iso: string): Date | null {
  const date = new Date(iso.length > 10 ? `${iso}Z` : iso);
  return Number.isNaN(date.getTime()) ? null : date;
}

/**
 * The book as Apache Parquet in folders that engines read as they are (`drive/car=saloon/year=2026/part-0.parquet`; the
 * convention of Hive: the partition columns stand in the path and not in the files). Engines guess the type of a partition, so
 * that a label of digits would come back as a number: the column `label` has it as it is. Three tables: `drive`, `measure`, `note`.
 * The folder is written beside and takes its name at the end; an earlier export is replaced, anything else is not.
 * @returns rows by table
 */
export async function writeParquetFolder(
  book: Book,
  path: string,
): Promise<Record<'drive' | 'measure' | 'note', number>> {
  const there = await readdir(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return undefined;
    throw new UserError('not-writable', `${path}: found no folder (${error.code}), expected a new or empty one`);
  });
  if (there !== undefined && there.length > 0 && !there.includes(MARK))
    throw new UserError(
      'not-writable',
      `${path}: found a folder with other files, expected a new or empty one, or an earlier export`,
    );
  const partial = join(dirname(path), `.${basename(path)}.${process.pid}.partial`);
  const rows = { drive: 0, measure: 0, note: 0 };
  try {
    await mkdir(partial, { recursive: true });
    for (const { car } of await book.cars()) {
      for (const [year, drives] of byYear(await book.drives(car))) {
        const place = `car=${escapedName(car)}/year=${year}`;
        const values = drives.flatMap((drive) => drive.measures.map((measure): ValueRow => ({ drive, measure })));
        rows.drive += await writeTable(partial, 'drive', place, DRIVE, drives);
        rows.measure += await writeTable(partial, 'measure', place, VALUE, values);
      }
      rows.note += await writeTable(partial, 'note', `car=${escapedName(car)}`, NOTE, await book.notes(car));
    }
    await writeFile(join(partial, MARK), `${JSON.stringify({ schema: 'telltale/parquet@1', rows })}\n`);
    await takeName(partial, path);
  } catch (error) {
    await rm(partial, { recursive: true, force: true });
    const { code } = error as NodeJS.ErrnoException;
    if (error instanceof UserError || code === undefined) throw error;
    throw new UserError(
      'not-writable',
      `${path}: could not be written (${code}); check the folder and the room on the disk`,
    );
  }
  return rows;
}

async function takeName(partial: string, path: string): Promise<void> {
  const old = `${partial}.old`;
  if (existsSync(path)) await rename(path, old);
  await rename(partial, path);
  await rm(old, { recursive: true, force: true });
}

function byYear(drives: readonly StoredDrive[]): Map<string, StoredDrive[]> {
  const years = new Map<string, StoredDrive[]>();
  for (const drive of drives) {
    const year = drive.recordedAt.slice(0, 4);
    const list = years.get(year);
    if (list === undefined) years.set(year, [drive]);
    else list.push(drive);
  }
  return years;
}

/** Rows of a file: what is held as columns at a time. */
const ROWS = 50_000;

async function writeTable<Row>(
  folder: string,
  table: string,
  place: string,
  columns: readonly Column<Row>[],
  rows: readonly Row[],
): Promise<number> {
  if (rows.length === 0) return 0;
  const { parquetWriteFile } = await import('hyparquet-writer');
  const schema: SchemaElement[] = [
    { name: 'root', num_children: columns.length },
    ...columns.map(([name, type]) => ({ name, ...TYPES[type], repetition_type: 'OPTIONAL' as const })),
  ];
  const at = join(folder, table, ...place.split('/'));
  await mkdir(at, { recursive: true });
  for (let from = 0, part = 0; from < rows.length; from += ROWS, part++) {
    const some = rows.slice(from, from + ROWS);
    await parquetWriteFile({
      filename: join(at, `part-${part}.parquet`),
      schema,
      columnData: columns.map(([name, , of]) => ({ name, data: some.map(of) })),
    });
  }
  return rows.length;
}

/** Characters that Hive writes as %XX in the value of a partition, and those that Windows forbids in names. */
function escapedName(text: string): string {
  return text.replace(
    /\p{Cc}|["#%'*/:=?\\{[\]^<>|]|[. ]$/gu,
    (char) => `%${char.charCodeAt(0).toString(16).toUpperCase().padStart(2, '0')}`,
  );
}
