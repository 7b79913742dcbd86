// The exported folder, read back as it is by engines that are not ours (DuckDB, Polars), and its types against the published format.
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Book } from '../../src/book/book.js';
import { writeParquetFolder } from '../../src/book/parquet-folder.js';
import { openSqliteBook } from '../../src/book/sqlite/open.js';
import { drive } from './drives.js';

const ODD = 'a/b=c %41 "x" : ü\\?*';
/** A label that reads like a number: engines guess the types of partitions. */
const DIGITS = '007';
let folder = '';
let book: Book;
let target = '';
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-parquet-'));
  target = join(folder, 'out');
  mkdirSync(join(folder, 'book'));
  book = await openSqliteBook(join(folder, 'book', 'book.sqlite'), 'create');
  await book.add([...Array.from({ length: 30 }, (_, n) => drive(n)), drive(3, ODD), drive(40, ODD)]);
  await book.add([drive(5, DIGITS, { recordedAt: '2022-02-28', provenance: { file: '', version: '', addedAt: '' } })]);
  await book.note({ car: ODD, date: '2021-01-01', distance: null, kind: 'oil', text: 'ä' });
});
afterAll(async () => {
  await book?.close();
  rmSync(folder, { recursive: true, force: true });
});

interface Frame {
  readonly height: number;
  readonly columns: string[];
  toRecords(): Record<string, unknown>[];
}

/** Where the benchmark puts it: it has no builds for all platforms of the checkout. */
function loadPolars(): { scanParquet(path: string, options: object): { collectSync(): Frame } } | undefined {
  const at = fileURLToPath(
    new URL('../../../../node_modules/.cache/telltale/bench-peers/package.json', import.meta.url),
  );
  try {
    return createRequire(at)('nodejs-polars');
  } catch {
    return undefined;
  }
}

const polars = loadPolars();
const duckdb = await import('@duckdb/node-api').catch(() => undefined);

describe('partitioned Parquet', () => {
  it('is written whole, replaces an earlier export, and nothing else', async () => {
    expect(await writeParquetFolder(book, target)).toEqual({ drive: 33, measure: 66, note: 1 });
    expect(await writeParquetFolder(book, target)).toEqual({ drive: 33, measure: 66, note: 1 });
    expect(readdirSync(folder).sort()).toEqual(['book', 'out']);
    const other = mkdtempSync(join(folder, 'other-'));
    writeFileSync(join(other, 'mine.txt'), 'x');
    await expect(writeParquetFolder(book, other)).rejects.toMatchObject({ code: 'not-writable' });
    expect(readdirSync(other)).toEqual(['mine.txt']);
    await expect(writeParquetFolder(book, join(folder, 'book', 'book.sqlite'))).rejects.toMatchObject({
      code: 'not-writable',
    });
    rmSync(other, { recursive: true });
  });

  it('holds one folder a car and year, without the partition in the files', async () => {
    const at = join(target, 'drive', 'car=saloon', 'year=2021', 'part-0.parquet');
    const rows = await parquetReadObjects({ file: await asyncBufferFromFile(at) });
    expect(rows).toHaveLength(12);
    expect(Object.keys(rows[0]!)).not.toContain('car');
    expect(existsSync(join(target, '_telltale.json'))).toBe(true);
  });

  it('has plain columns of types that the format names, nothing nested', async () => {
    // https://parquet.apache.org/docs/file-format/types/logicaltypes/ (STRING, TIMESTAMP) and .../types/ (DOUBLE)
    const expected = {
      text: { type: 'BYTE_ARRAY', converted_type: 'UTF8', logical_type: { type: 'STRING' } },
      number: { type: 'DOUBLE', converted_type: undefined, logical_type: undefined },
      // A local time has no converted type: TIMESTAMP_MICROS means UTC.
      local: {
        type: 'INT64',
        converted_type: undefined,
        logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: false, unit: 'MICROS' },
      },
      utc: {
        type: 'INT64',
        converted_type: 'TIMESTAMP_MICROS',
        logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: true, unit: 'MICROS' },
      },
    };
    const times: Record<string, keyof typeof expected> = { recorded_at: 'local', noted_at: 'local', added_at: 'utc' };
    const texts = [
      'label',
      'hash',
      'level',
      'findings',
      'unproven',
      'file',
      'version',
      'measure',
      'unit',
      'kind',
      'text',
    ];
    for (const [table, own] of [
      ['drive', 'car=saloon/year=2021'],
      ['measure', 'car=saloon/year=2021'],
      ['note', `car=${readdirSync(join(target, 'note'))[0]!.slice(4)}`],
    ] as const) {
      const file = await asyncBufferFromFile(join(target, table, ...own.split('/'), 'part-0.parquet'));
      const [head, ...columns] = (await parquetMetadataAsync(file)).schema;
      expect(head!.num_children).toBe(columns.length);
      for (const { name, type, converted_type, logical_type, repetition_type } of columns) {
        expect(name).toMatch(/^[a-z_]+$/);
        const kind = times[name] ?? (texts.includes(name) ? 'text' : 'number');
        expect({ type, converted_type, logical_type }, name).toEqual(expected[kind]);
        expect(repetition_type).toBe('OPTIONAL');
      }
    }
  });

  it.skipIf(duckdb === undefined)('DuckDB reads it as it is, every value of it (skipped without DuckDB)', async () => {
    const connection = await (await duckdb!.DuckDBInstance.create()).connect();
    const rows = async (sql: string) => (await connection.runAndReadAll(sql)).getRowObjectsJson();
    const from = (table: string): string =>
      `read_parquet('${target.replaceAll("'", "''")}/${table}/**/*.parquet', hive_partitioning = true)`;
    expect(
      await rows(
        `SELECT label AS car, year, count(*)::INT AS n FROM ${from('drive')} GROUP BY ALL ORDER BY label, year`,
      ),
    ).toEqual(
      [
        { car: DIGITS, year: '2022', n: 1 },
        { car: ODD, year: '2020', n: 1 },
        { car: ODD, year: '2023', n: 1 },
        { car: 'saloon', year: '2020', n: 12 },
        { car: 'saloon', year: '2021', n: 12 },
        { car: 'saloon', year: '2022', n: 6 },
      ].map((row) => ({ ...row, year: expect.toSatisfy((year: unknown) => String(year) === row.year) })),
    );
    // The folders' names come back as the labels that they are.
    expect(
      await rows(
        `SELECT DISTINCT car FROM ${from('drive').replace(')', ', hive_types_autocast = false)')} WHERE car <> label`,
      ),
    ).toEqual([]);
    const kept = [...(await book.drives('saloon')), ...(await book.drives(ODD)), ...(await book.drives(DIGITS))];
    const described = await rows(`DESCRIBE SELECT recorded_at, added_at, distance_km, label FROM ${from('drive')}`);
    expect(described.map(({ column_type }) => column_type)).toEqual([
      'TIMESTAMP',
      'TIMESTAMP WITH TIME ZONE',
      'DOUBLE',
      'VARCHAR',
    ]);
    const read = await rows(
      `SELECT * REPLACE (strftime(recorded_at, '%Y-%m-%dT%H:%M:%S') AS recorded_at, epoch_ms(added_at)::DOUBLE AS added_at)
       FROM ${from('drive')} ORDER BY hash`,
    );
    expect(
      read.map(
        ({
          hash,
          recorded_at,
          distance_km,
          engine_hours,
          load,
          altitude_m,
          coverage,
          findings,
          file,
          label,
          added_at,
        }) => ({
          label,
          added_at,
          hash,
          recorded_at,
          distance_km,
          engine_hours,
          load,
          altitude_m,
          coverage,
          findings,
          file,
        }),
      ),
    ).toEqual(
      [...kept]
        .sort((a, b) => (a.hash < b.hash ? -1 : 1))
        .map((each) => ({
          label: each.car,
          added_at: each.provenance.addedAt === '' ? null : Date.parse(`${each.provenance.addedAt}Z`),
          hash: each.hash,
          recorded_at: each.recordedAt.length > 10 ? each.recordedAt : `${each.recordedAt}T00:00:00`,
          distance_km: each.distance,
          engine_hours: each.engineHours,
          load: each.covariates.load,
          altitude_m: each.covariates.altitude,
          coverage: each.summary.coverage,
          findings: JSON.stringify(each.summary.findings),
          file: each.provenance.file,
        })),
    );
    const measures = await rows(
      `SELECT hash, measure, value, standard_error, samples, unit FROM ${from('measure')} ORDER BY hash, measure`,
    );
    expect(measures).toEqual(
      [...kept]
        .sort((a, b) => (a.hash < b.hash ? -1 : 1))
        .flatMap((each) =>
          each.measures.map(({ id, value, standardError, samples, unit }) => ({
            hash: each.hash,
            measure: id,
            value,
            standard_error: standardError,
            samples,
            unit,
          })),
        ),
    );
    expect(
      await rows(`SELECT label AS car, noted_at::DATE AS noted_at, kind, text, distance_km FROM ${from('note')}`),
    ).toEqual([{ car: ODD, noted_at: '2021-01-01', kind: 'oil', text: 'ä', distance_km: null }]);
    // A question that a workshop asks, over the partitions.
    expect(
      await rows(
        `SELECT count(DISTINCT hash)::INT AS n FROM ${from('measure')} WHERE car = 'saloon' AND year = 2021 AND measure = 'engine.idle.swing'`,
      ),
    ).toEqual([{ n: 12 }]);
    connection.closeSync();
  });

  it.skipIf(polars === undefined)(
    'Polars reads it as it is (skipped without Polars: npm run bench fetches it)',
    async () => {
      const scan = (table: string) =>
        polars!.scanParquet(join(target, table, '**', '*.parquet'), { hivePartitioning: true }).collectSync();
      const drives = scan('drive');
      expect(drives.height).toBe(33);
      expect(drives.columns).toEqual(expect.arrayContaining(['car', 'year', 'label', 'hash', 'recorded_at']));
      const kept = [...(await book.drives('saloon')), ...(await book.drives(ODD)), ...(await book.drives(DIGITS))];
      const told = drives.toRecords().map(({ label, hash, year, recorded_at, distance_km, findings }) => ({
        label,
        hash,
        year: Number(year),
        recorded_at: new Date(recorded_at as never).toISOString().slice(0, 19),
        distance_km,
        findings,
      }));
      const byHash = (a: { hash?: unknown }, b: { hash?: unknown }) => (String(a.hash) < String(b.hash) ? -1 : 1);
      expect(told.sort(byHash)).toEqual(
        kept
          .map((each) => ({
            label: each.car,
            hash: each.hash,
            year: Number(each.recordedAt.slice(0, 4)),
            recorded_at: each.recordedAt.length > 10 ? each.recordedAt : `${each.recordedAt}T00:00:00`,
            distance_km: each.distance,
            findings: JSON.stringify(each.summary.findings),
          }))
          .sort(byHash),
      );
      expect(scan('measure').height).toBe(66);
      expect(scan('note').height).toBe(1);
    },
  );
});
