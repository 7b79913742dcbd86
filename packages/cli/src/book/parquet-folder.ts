import { existsSync } from 'node:fs';
import { mkdir, readdir, rename, rm, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { UserError } from '../exit-code.js';
import type { Book, StoredDrive } from './book.js';

/** Written beside the data; engines pass over names that begin with `_`. Tells an export that may be replaced. */
const MARK = '_telltale.json';

type Cell = string | number | null;
type Column = readonly [name: string, type: 'STRING' | 'DOUBLE', of: (row: never) => Cell];

const DRIVE: readonly Column[] = [
  ['hash', 'STRING', (d: StoredDrive) => d.hash],
  ['recorded_at', 'STRING', (d: StoredDrive) => d.recordedAt],
  ['distance_km', 'DOUBLE', (d: StoredDrive) => d.distance],
  ['engine_hours', 'DOUBLE', (d: StoredDrive) => d.engineHours],
  ['ambient_temperature_degC', 'DOUBLE', (d: StoredDrive) => d.covariates.ambientTemperature],
  ['load', 'DOUBLE', (d: StoredDrive) => d.covariates.load],
  ['altitude_m', 'DOUBLE', (d: StoredDrive) => d.covariates.altitude],
  ['ethanol_share', 'DOUBLE', (d: StoredDrive) => d.covariates.fuel],
  ['level', 'STRING', (d: StoredDrive) => d.summary.level],
  ['coverage', 'DOUBLE', (d: StoredDrive) => d.summary.coverage],
  ['index_low', 'DOUBLE', (d: StoredDrive) => d.summary.index.low],
  ['index_high', 'DOUBLE', (d: StoredDrive) => d.summary.index.high],
  ['findings', 'STRING', (d: StoredDrive) => JSON.stringify(d.summary.findings)],
  ['unproven', 'STRING', (d: StoredDrive) => JSON.stringify(d.summary.unproven)],
  ['file', 'STRING', (d: StoredDrive) => d.provenance.file],
  ['version', 'STRING', (d: StoredDrive) => d.provenance.version],
  ['added_at', 'STRING', (d: StoredDrive) => d.provenance.addedAt],
];

interface ValueRow {
  readonly drive: StoredDrive;
  readonly measure: StoredDrive['measures'][number];
}

const VALUE: readonly Column[] = [
  ['hash', 'STRING', (r: ValueRow) => r.drive.hash],
  ['recorded_at', 'STRING', (r: ValueRow) => r.drive.recordedAt],
  ['distance_km', 'DOUBLE', (r: ValueRow) => r.drive.distance],
  ['measure', 'STRING', (r: ValueRow) => r.measure.id],
  ['unit', 'STRING', (r: ValueRow) => r.measure.unit],
  ['value', 'DOUBLE', (r: ValueRow) => r.measure.value],
  ['standard_error', 'DOUBLE', (r: ValueRow) => r.measure.standardError],
  ['samples', 'DOUBLE', (r: ValueRow) => r.measure.samples],
];

const NOTE: readonly Column[] = [
  ['date', 'STRING', (n: { date: string }) => n.date],
  ['distance_km', 'DOUBLE', (n: { distance: number | null }) => n.distance],
  ['kind', 'STRING', (n: { kind: string }) => n.kind],
  ['text', 'STRING', (n: { text: string }) => n.text],
];

/**
 * The book as Apache Parquet in folders that engines read as they are (`drive/car=saloon/year=2026/part-0.parquet`; the
 * convention of Hive: the partition columns stand in the path and not in the files). Three tables: `drive`, `measure`, `note`.
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
  columns: readonly Column[],
  rows: readonly Row[],
): Promise<number> {
  if (rows.length === 0) return 0;
  const { parquetWriteFile } = await import('hyparquet-writer');
  const at = join(folder, table, ...place.split('/'));
  await mkdir(at, { recursive: true });
  for (let from = 0, part = 0; from < rows.length; from += ROWS, part++) {
    const some = rows.slice(from, from + ROWS);
    await parquetWriteFile({
      filename: join(at, `part-${part}.parquet`),
      columnData: columns.map(([name, type, of]) => ({
        name,
        type,
        nullable: true,
        data: some.map((row) => of(row as never)),
      })),
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
