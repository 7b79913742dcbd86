import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from 'hyparquet';
import Papa from 'papaparse';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { csvPieces, csvText } from '../src/export/csv.js';
import { run } from '../src/program.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-export-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));
beforeEach(() => {
  for (const name of readdirSync(folder)) rmSync(join(folder, name), { recursive: true, force: true });
});

const at = (name: string) => join(folder, name);

async function telltale(...argv: string[]): Promise<{ code: number; err: string }> {
  let err = '';
  const terminal = { out: () => undefined, err: (text: string) => (err += text), width: 80, color: false, live: false };
  try {
    return { code: await run(argv, terminal as never, '0.0.0'), err };
  } catch (error) {
    const user = error as { exit?: number; code?: string; message: string };
    return { code: user.exit ?? 4, err: `${user.code}: ${user.message}` };
  }
}

/** 200 °F = 93.333 °C; an empty cell; a selector in words; a negative number. */
const rows = Array.from({ length: 120 }, (_, i) =>
  [
    (i / 10).toFixed(1),
    800 + (i % 13) * 7.25,
    i === 5 ? '' : 200 + (i % 4),
    i < 60 ? 'P' : 'D',
    (-((i % 7) + 1) / 4).toFixed(2),
  ].join(','),
);
const LOG = `time [s],Engine speed [rpm],Coolant temperature [F],Selector,Short term fuel trim bank 1 [%]\n${rows.join('\n')}\n`;
const NAMES = ['time [s]', 'engineSpeed [rpm]', 'coolantTemperature [degC]', 'selector', 'fuelTrimShort.bank1 [%]'];

function expectExported(table: readonly Record<string, unknown>[], toNumber: (cell: unknown) => number): void {
  expect(Object.keys(table[0]!)).toEqual(NAMES);
  expect(table).toHaveLength(120);
  for (const [i, row] of table.entries()) {
    expect(toNumber(row['time [s]'])).toBe(i / 10);
    expect(toNumber(row['engineSpeed [rpm]'])).toBe(800 + (i % 13) * 7.25);
    if (i === 5) expect(row['coolantTemperature [degC]'] ?? '').toBe('');
    // The definition of the degree Fahrenheit (NIST SP 811, appendix B.9).
    else expect(toNumber(row['coolantTemperature [degC]'])).toBeCloseTo((200 + (i % 4) - 32) / 1.8, 10);
    expect(row.selector).toBe(i < 60 ? 'P' : 'D');
    expect(toNumber(row['fuelTrimShort.bank1 [%]'])).toBe(-((i % 7) + 1) / 4);
  }
}

describe('export', () => {
  it('writes CSV that another library reads', async () => {
    writeFileSync(at('log.csv'), LOG);
    expect(await telltale('export', at('log.csv'), '--out', at('out.csv'), '--quiet')).toEqual({ code: 0, err: '' });
    const { data } = Papa.parse<Record<string, string>>(readFileSync(at('out.csv'), 'utf8').trimEnd(), {
      header: true,
    });
    expectExported(data, Number);
    expect(readdirSync(folder).sort()).toEqual(['log.csv', 'out.csv']);
  });

  it('reads back what it wrote, to the same bytes', async () => {
    writeFileSync(at('log.csv'), LOG);
    await telltale('export', at('log.csv'), '--out', at('once.csv'));
    expect((await telltale('export', at('once.csv'), '--out', at('twice.csv'))).code).toBe(0);
    expect(readFileSync(at('twice.csv'), 'utf8')).toBe(readFileSync(at('once.csv'), 'utf8'));
  });

  it('writes Parquet with units and sources beside the columns', async () => {
    writeFileSync(at('log.csv'), LOG);
    expect((await telltale('export', at('log.csv'), '--out', at('out.parquet'))).code).toBe(0);
    const file = await asyncBufferFromFile(at('out.parquet'));
    expectExported(await parquetReadObjects({ file }), (cell) => cell as number);
    const { key_value_metadata } = await parquetMetadataAsync(file);
    const notes = JSON.parse(key_value_metadata!.find(({ key }) => key === 'telltale.channels')!.value!);
    expect(notes[1]).toMatchObject({
      id: 'coolantTemperature',
      unit: 'degC',
      source: 'Coolant temperature [F]',
      sourceUnit: 'degF',
    });
  });

  it('writes CSV and Parquet that DuckDB reads', async (context) => {
    const duckdb = await import('@duckdb/node-api').catch(() => undefined);
    if (duckdb === undefined) context.skip('DuckDB is not installed here');
    writeFileSync(at('log.csv'), LOG);
    const connection = await (await duckdb!.DuckDBInstance.create(':memory:')).connect();
    for (const name of ['out.parquet', 'out.csv']) {
      expect((await telltale('export', at('log.csv'), '--out', at(name))).code).toBe(0);
      const reader = await connection.runAndReadAll(`from '${at(name).replaceAll("'", "''")}'`);
      expectExported(reader.getRowObjects(), Number);
    }
  });

  it('replaces an existing file, and leaves it alone when the recording is unusable', async () => {
    writeFileSync(at('log.csv'), LOG);
    writeFileSync(at('out.csv'), 'before');
    writeFileSync(at('bad.csv'), 'not a table');
    const bad = await telltale('export', at('bad.csv'), '--out', at('out.csv'));
    expect([bad.code, bad.err]).toEqual([3, expect.stringMatching(/^telltale: no-header: /)]);
    expect(readFileSync(at('out.csv'), 'utf8')).toBe('before');
    expect((await telltale('export', at('log.csv'), '--out', at('out.csv'))).code).toBe(0);
    expect(readFileSync(at('out.csv'), 'utf8')).toMatch(/^time \[s\],engineSpeed/);
  });

  it('says what stands in its way', async () => {
    writeFileSync(at('log.csv'), LOG);
    mkdirSync(at('taken.csv'));
    const cases = [
      [['--out', at('out.xls')], 2, /^usage: .*\.csv or \.parquet/],
      [['--out', at('log.csv')], 2, /^usage: found the recording itself/],
      [['--out', at('taken.csv')], 2, /^not-writable: taken\.csv: found a folder/],
      [['--out', at('nowhere/out.csv')], 2, /^not-writable: out\.csv: .*folder does not exist/],
      [[], 2, /^usage: .*--out/],
    ] as const;
    for (const [flags, code, message] of cases) {
      const done = await telltale('export', at('log.csv'), ...flags);
      expect([done.code, done.err]).toEqual([code, expect.stringMatching(message)]);
    }
    expect(readdirSync(folder).sort()).toEqual(['log.csv', 'taken.csv']);
    expect(existsSync(at('out.xls'))).toBe(false);
  });
});

describe('text of a CSV cell', () => {
  // OWASP, "CSV Injection": cells that begin with = + - @ (also full-width), tab, carriage return or line feed.
  it.each([
    ['=1+1', "'=1+1"],
    ['+1', "'+1"],
    ['-1', "'-1"],
    ['@SUM(A1)', "'@SUM(A1)"],
    ['\t=1', "'\t=1"],
    ['\r=1', `"'\r=1"`],
    ['\n=1', `"'\n=1"`],
    ['＝1+1', "'＝1+1"],
    ['＠SUM(A1)', "'＠SUM(A1)"],
    ['=HYPERLINK("x","y")', `"'=HYPERLINK(""x"",""y"")"`],
    ['a,b', '"a,b"'],
    ['plain', 'plain'],
  ])('%j becomes %j', (given, expected) => expect(csvText(given)).toBe(expected));

  it('leaves numbers as numbers and neutralises words and names', () => {
    const columns = [
      { name: '=cmd', values: Float64Array.of(-5, Number.NaN, 1e-7) },
      {
        name: 'state',
        values: Float64Array.of(1, 2, Number.NaN),
        word: (code: number) => (code === 1 ? '-on' : 'off'),
      },
    ];
    expect([...csvPieces(columns)].join('')).toBe("'=cmd,state\n-5,'-on\n,off\n1e-7,\n");
  });
});
