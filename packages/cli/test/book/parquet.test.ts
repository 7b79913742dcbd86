// The exported folder, read back as it is by an engine that is not ours (DuckDB).
import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { asyncBufferFromFile, parquetReadObjects } from 'hyparquet';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Book } from '../../src/book/book.js';
import { writeParquetFolder } from '../../src/book/parquet-folder.js';
import { openSqliteBook } from '../../src/book/sqlite/open.js';
import { drive } from './drives.js';

const ODD = 'a/b=c %41 "x" : ü\\?*';
let folder = '';
let book: Book;
let target = '';
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-parquet-'));
  target = join(folder, 'out');
  book = await openSqliteBook(join(folder, 'book.sqlite'), 'create');
  await book.add([...Array.from({ length: 30 }, (_, n) => drive(n)), drive(3, ODD), drive(40, ODD)]);
  await book.note({ car: ODD, date: '2021-01-01', distance: null, kind: 'oil', text: 'ä' });
});
afterAll(async () => {
  await book?.close();
  rmSync(folder, { recursive: true, force: true });
});

const duckdb = await import('@duckdb/node-api').catch(() => undefined);

describe('partitioned Parquet', () => {
  it('is written whole, replaces an earlier export, and nothing else', async () => {
    expect(await writeParquetFolder(book, target)).toEqual({ drive: 32, measure: 64, note: 1 });
    expect(await writeParquetFolder(book, target)).toEqual({ drive: 32, measure: 64, note: 1 });
    expect(readdirSync(folder).sort()).toEqual(['book.sqlite', 'out']);
    const other = mkdtempSync(join(folder, 'other-'));
    writeFileSync(join(other, 'mine.txt'), 'x');
    await expect(writeParquetFolder(book, other)).rejects.toMatchObject({ code: 'not-writable' });
    expect(readdirSync(other)).toEqual(['mine.txt']);
    await expect(writeParquetFolder(book, join(folder, 'book.sqlite'))).rejects.toMatchObject({ code: 'not-writable' });
    rmSync(other, { recursive: true });
  });

  it('holds one folder a car and year, without the partition in the files', async () => {
    const at = join(target, 'drive', 'car=saloon', 'year=2021', 'part-0.parquet');
    const rows = await parquetReadObjects({ file: await asyncBufferFromFile(at) });
    expect(rows).toHaveLength(12);
    expect(Object.keys(rows[0]!)).not.toContain('car');
    expect(existsSync(join(target, '_telltale.json'))).toBe(true);
  });

  it.skipIf(duckdb === undefined)('DuckDB reads it as it is, every value of it (skipped without DuckDB)', async () => {
    const connection = await (await duckdb!.DuckDBInstance.create()).connect();
    const rows = async (sql: string) => (await connection.runAndReadAll(sql)).getRowObjectsJson();
    const from = (table: string): string =>
      `read_parquet('${target.replaceAll("'", "''")}/${table}/**/*.parquet', hive_partitioning = true)`;
    expect(
      await rows(`SELECT car, year, count(*)::INT AS n FROM ${from('drive')} GROUP BY ALL ORDER BY car, year`),
    ).toEqual(
      [
        { car: ODD, year: '2020', n: 1 },
        { car: ODD, year: '2023', n: 1 },
        { car: 'saloon', year: '2020', n: 12 },
        { car: 'saloon', year: '2021', n: 12 },
        { car: 'saloon', year: '2022', n: 6 },
      ].map((row) => ({ ...row, year: expect.toSatisfy((year: unknown) => String(year) === row.year) })),
    );
    const kept = [...(await book.drives('saloon')), ...(await book.drives(ODD))];
    const read = await rows(`SELECT * FROM ${from('drive')} ORDER BY hash`);
    expect(
      read.map(({ hash, recorded_at, distance_km, engine_hours, load, altitude_m, coverage, findings, file }) => ({
        hash,
        recorded_at,
        distance_km,
        engine_hours,
        load,
        altitude_m,
        coverage,
        findings,
        file,
      })),
    ).toEqual(
      [...kept]
        .sort((a, b) => (a.hash < b.hash ? -1 : 1))
        .map((each) => ({
          hash: each.hash,
          recorded_at: each.recordedAt,
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
    expect(await rows(`SELECT car, date, kind, text, distance_km FROM ${from('note')}`)).toEqual([
      { car: ODD, date: '2021-01-01', kind: 'oil', text: 'ä', distance_km: null },
    ]);
    // A question that a workshop asks, over the partitions.
    expect(
      await rows(
        `SELECT count(DISTINCT hash)::INT AS n FROM ${from('measure')} WHERE car = 'saloon' AND year = 2021 AND measure = 'engine.idle.swing'`,
      ),
    ).toEqual([{ n: 12 }]);
    connection.closeSync();
  });
});
