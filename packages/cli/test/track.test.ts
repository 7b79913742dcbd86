// The logbook as its user meets it: commands, messages, exit codes.
import { spawn } from 'node:child_process';
import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { NOTE_KINDS as KINDS } from '@telltale/core';
import { Ajv2020 } from 'ajv/dist/2020.js';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { NOTE_KINDS } from '../src/track-program.js';
import { telltale, writeLog } from './track/owner.js';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const test = (name: string) => join(root, 'test-data', name);
let folder = '';
let count = 0;
let book = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-track-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));
beforeEach(() => {
  book = join(folder, `book-${++count}.sqlite`);
});

const track = (...argv: string[]) => telltale('track', ...argv, '--book', book);
const log = (name: string, n: number, date?: string) => writeLog(join(folder, name), n, date);

function fits(name: string, json: string): unknown {
  const schema = JSON.parse(readFileSync(join(root, 'packages/core/schema', name), 'utf8')) as object;
  const check = new Ajv2020({ strict: true }).compile(schema);
  const document: unknown = JSON.parse(json);
  expect(check(document), JSON.stringify(check.errors)).toBe(true);
  return document;
}

describe('track add', () => {
  it('adds drives, knows them again by content, and says so', async () => {
    const first = log('a.csv', 1, '2024-05-01');
    const second = log('b.csv', 2, '2024-06-01');
    expect(await track('add', first, second, '--car', 'saloon')).toEqual({ code: 0, out: '2 drives added\n', err: '' });
    copyFileSync(first, join(folder, 'renamed.csv'));
    expect((await track('add', join(folder, 'renamed.csv'), second)).out).toBe(
      '0 drives added, 2 already in the book\n',
    );
    // One file twice in one call is one drive.
    const third = log('c.csv', 3, '2024-07-01');
    expect((await track('add', third, third)).out).toBe('one drive added, 1 already in the book\n');
    const elsewhere = await track('add', first, '--car', 'other');
    expect(elsewhere.out).toBe('0 drives added, 1 already in the book\n');
    expect(elsewhere.err).toContain('a drive of saloon');
  });

  it('tells as JSON what it did, and goes on past what cannot be used', async () => {
    const good = log('good.csv', 4, '2024-05-01');
    const bad = join(folder, 'bad.csv');
    writeFileSync(bad, 'nothing here\n');
    const { code, out, err } = await track('add', bad, join(folder, 'absent.csv'), good, '--car', 'saloon', '--json');
    expect(code).toBe(3);
    expect(fits('added.json', out)).toMatchObject({
      added: [{ car: 'saloon', recordedAt: '2024-05-01T10:00:00', file: 'good.csv' }],
      known: [],
      unusable: [{ file: 'bad.csv' }, { file: 'absent.csv', code: 'no-file' }],
    });
    expect(err).toContain('absent.csv');
  });

  it('dates a drive by the user, its own stamps, or the time of the file, and says the last', async () => {
    const recordedAt = async (...argv: string[]): Promise<unknown> => {
      const { out } = await track('add', ...argv, '--car', 'saloon', '--json');
      return (JSON.parse(out) as { added: { recordedAt: string }[] }).added[0]!.recordedAt;
    };
    expect(await recordedAt(log('stamped.csv', 5, '2024-05-01'))).toBe('2024-05-01T10:00:00');
    expect(await recordedAt(log('stamped2.csv', 6, '2024-05-01'), '--date', '2023-01-02')).toBe('2023-01-02');
    const plain = log('plain.csv', 7);
    utimesSync(plain, new Date('2022-03-04T05:06:07Z'), new Date('2022-03-04T05:06:07Z'));
    const { out, err } = await track('add', plain, '--car', 'saloon', '--json');
    expect(JSON.parse(out)).toMatchObject({ added: [{ recordedAt: '2022-03-04T05:06:07' }] });
    expect(err).toContain('file-date');
    expect((await track('add', plain, '--car', 'saloon', '--date', '2024-02-30')).code).toBe(2);
  });

  it('takes read-outs given with one recording as part of it, and its car from the profile', async () => {
    const files = ['demo.csv', 'demo.stored.csv', 'demo.codes.csv'].map(test);
    expect((await track('add', ...files, '--vehicle', test('demo.vehicle.yaml'))).out).toBe('one drive added\n');
    const report = fits('logbook.json', (await track('show', '--json')).out) as {
      car: string;
      distance: unknown;
      measures: { id: string; limit: { source: string } | null }[];
    };
    expect(report.car).toBe('demo-saloon');
    expect(report.distance).toEqual({ first: 41_950, last: 41_950 });
    expect(report.measures.map(({ id }) => id)).toContain('codes.monitor-results.margin.purge-flow-test');
    // The profile is kept with the car.
    expect((await track('add', ...files)).out).toBe('0 drives added, 1 already in the book\n');
  });

  it('asks for the car where it cannot know it', async () => {
    const path = log('whose.csv', 8, '2024-05-01');
    expect((await track('add', path)).err).toContain('which-car');
    expect((await track('add')).code).toBe(2);
    for (const bad of ['', ' ', 'x'.repeat(81), 'a\u0007b'])
      expect((await track('add', path, '--car', bad)).code, JSON.stringify(bad)).toBe(2);
  });

  it('keeps identification numbers only as hashes, unless asked', async () => {
    // Invented; ISO 3779 has 17 places without I, O and Q.
    const number = 'XX0TEST1234567890';
    const path = log(`${number} drive.csv`, 9, '2024-05-01');
    await track('add', path, '--car', number);
    const bytes = readFileSync(book).toString('latin1');
    expect(bytes).not.toContain(number);
    expect(bytes).not.toContain(number.toLowerCase());
    // Nor by a note or a profile.
    const profile = join(folder, 'numbered.yaml');
    writeFileSync(profile, `schema: telltale/vehicle@1\nid: ${number}\n`);
    await track('add', log('by profile.csv', 61, '2024-06-01'), '--vehicle', profile);
    expect((await track('note', 'other', 'papers say', number, '--car', number)).out).toBe('noted\n');
    for (const own of [book, `${book}-wal`].filter((each) => existsSync(each)))
      expect(readFileSync(own).toString('latin1')).not.toContain(number);
    expect((await track('note', 'other', 'papers say', number, '--remove')).out).toBe('note removed\n');
    // The user finds the car by its number all the same.
    const shown = await track('show', '--car', number, '--json');
    expect((JSON.parse(shown.out) as { car: string }).car).toMatch(/^car-[0-9a-f]{12}$/);
    const kept = join(folder, 'kept.sqlite');
    await telltale('track', 'add', path, '--car', number, '--keep-identification', '--book', kept);
    expect(readFileSync(kept).toString('latin1')).toContain(number);
  });
});

describe('track show, report, note, due, forget', () => {
  beforeEach(async () => {
    const drives = Array.from({ length: 3 }, (_, n) => log(`m${n}.csv`, 10 + n, `2024-0${n + 1}-10`));
    await track('add', ...drives, '--car', 'saloon', '--quiet');
  });

  it('shows a car as text, JSON, markdown and page, the same bytes each time', async () => {
    const text = await track('show');
    expect(text.code).toBe(0);
    expect(text.out).toContain('saloon  3 drives');
    expect(text.out).not.toMatch(/undefined|NaN|\[object/);
    const report = fits('logbook.json', (await track('show', '--json')).out) as Record<string, unknown>;
    expect(report).toMatchObject({ car: 'saloon', drives: 3, first: '2024-01-10T10:00:00' });
    expect(report).not.toHaveProperty('due');
    expect((await track('show', '--json')).out).toBe((await track('show', '--json')).out);
    expect((await track('show', '--markdown')).out).toContain('saloon');
    const page = join(folder, 'page.html');
    await track('report', '--html', page, '--date', '2024-04-20');
    expect(readFileSync(page, 'utf8')).toContain('<svg class="still"');
    const due = fits('logbook.json', (await track('report', '--json', '--date', '2024-04-20')).out);
    expect(due).toMatchObject({ due: { next: { date: '2024-04-10', overdue: true } } });
  });

  it('shows at once while another process writes the book, also where the report has to be computed', async () => {
    const before = await track('show', '--json');
    const holder = new Sqlite(book);
    holder.exec('DELETE FROM report; BEGIN EXCLUSIVE');
    try {
      // A wait of a second would be told.
      expect(await track('show', '--json')).toEqual(before);
      expect((await track('report', '--json', '--date', '2024-04-20')).err).toBe('');
    } finally {
      holder.exec('ROLLBACK');
      holder.close();
    }
  });

  it('says that it waits for another process, and takes a note once that is done', async () => {
    const script = `
      import Sqlite from 'better-sqlite3';
      const holder = new Sqlite(${JSON.stringify(book)});
      holder.exec('BEGIN IMMEDIATE');
      process.stdout.write('held');
      setTimeout(() => { holder.exec('COMMIT'); holder.close(); }, 1800);`;
    const child = spawn(process.execPath, ['--input-type=module', '-e', script], { cwd: join(root, 'packages/cli') });
    await new Promise((resolve) => child.stdout.once('data', resolve));
    const { code, out, err } = await track('note', 'oil', '--date', '2024-02-20');
    expect([code, out]).toEqual([0, 'noted\n']);
    expect(err.split('\n')).toEqual([expect.stringMatching(/^telltale: book-waits: .*another process holds/), '']);
  });

  it('shows all cars, worst first, where the book holds several', async () => {
    await track('add', ...['demo.csv', 'demo.stored.csv'].map(test), '--vehicle', test('demo.vehicle.yaml'), '--quiet');
    const fleet = fits('fleet.json', (await track('show', '--json')).out) as { cars: { car: string; level: string }[] };
    expect(fleet.cars.map(({ car }) => car)).toEqual(['demo-saloon', 'saloon']);
    expect((await track('show')).out).toContain('worst first');
    expect((await track('show', '--car', 'nobody')).err).toContain('no-car');
    const hidden = await track('show', '--json', '--redact');
    expect(hidden.out).not.toContain('saloon');
  });

  it('keeps notes, shows them, and takes them back', async () => {
    expect(NOTE_KINDS).toEqual(KINDS);
    expect(
      (await track('note', 'oil', '5W-40,', 'at', 'the', 'shop', '--date', '2024-02-20', '--distance', '50000')).out,
    ).toBe('noted\n');
    expect((await track('note', 'oil', '5W-40, at the shop', '--date', '2024-02-20')).out).toContain('already');
    expect((await track('show')).out).toContain('2024-02-20, 50\u202f000 km: engine oil changed: 5W-40, at the shop');
    expect((await track('note', 'oil', '5W-40, at the shop', '--date', '2024-02-20', '--remove')).out).toBe(
      'note removed\n',
    );
    expect((await track('note', 'oil', '--date', '2024-02-20', '--remove')).err).toContain('no-note');
    expect((await track('note', 'petrol')).code).toBe(2);
    expect((await track('note', 'other', 'x'.repeat(501))).code).toBe(2);
    expect((await track('show')).out).not.toContain('5W-40');
  });

  it('says what is due as of a day', async () => {
    const list = fits('due.json', (await track('due', '--json', '--date', '2024-03-20')).out);
    expect(list).toMatchObject({
      asOf: '2024-03-20',
      cars: [{ car: 'saloon', next: { date: '2024-04-10', overdue: false } }],
    });
    expect((await track('due', '--date', '2024-05-20')).out).toContain('overdue');
  });

  it('forgets a drive by the beginning of its hash, or a car, and nothing by mistake', async () => {
    const hash = (
      JSON.parse((await track('add', log('m0.csv', 10, '2024-01-10'), '--json')).out) as { known: { hash: string }[] }
    ).known[0]!.hash;
    expect((await track('forget')).code).toBe(2);
    const refused = (await track('forget', '--drive', 'zzzz')).err;
    expect(refused).toContain('no-drive');
    expect(refused).toContain(`${hash.slice(0, 8)} 2024-01-10 m0.csv`);
    expect((await track('forget', '--drive', '2024')).err).toContain('no-drive');
    expect((await track('forget', '--drive', '2024-0')).err).toContain('no-drive');
    const backup = join(folder, `before-${count}.sqlite`);
    await track('backup', backup);
    for (const by of ['2024-02-10', join('elsewhere', 'm1.csv')]) {
      expect((await track('forget', '--drive', by)).out).toBe('1 drive and 0 notes of saloon forgotten\n');
      expect((await track('restore', backup, '--merge')).out).toContain('1 drive');
    }
    expect((await track('forget', '--drive', hash.slice(0, 8))).out).toBe('1 drive and 0 notes of saloon forgotten\n');
    expect((JSON.parse((await track('show', '--json')).out) as { drives: number }).drives).toBe(2);
    expect((await track('forget', '--all')).out).toContain('2 drives');
    expect((await track('show')).err).toContain('no-car');
  });

  it('backs up, restores, merges, and never overwrites', async () => {
    const copy = join(folder, `copy-${count}.sqlite`);
    expect((await track('backup', copy)).out).toBe('3 drives backed up\n');
    const before = (await track('show', '--json')).out;
    expect((await track('restore', copy)).err).toContain('book-not-empty');
    expect((await track('backup', book)).code).toBe(2);
    await track('forget', '--all');
    await track('add', log('other.csv', 30, '2024-01-01'), '--car', 'other', '--quiet');
    expect((await track('restore', copy, '--merge')).out).toBe('1 car, 3 drives and 0 notes restored\n');
    expect((await track('show', '--car', 'saloon', '--json')).out).toBe(before);
    // A damaged book is moved aside, not thrown away.
    writeFileSync(book, readFileSync(book).subarray(0, 5000));
    expect((await track('show')).err).toContain('book-damaged');
    expect((await track('restore', copy, '--replace')).code).toBe(0);
    expect((await track('show', '--json')).out).toBe(before);
    expect(statSync(`${book}.replaced-1`).size).toBe(5000);
    expect((await track('restore', test('demo.csv'))).err).toContain('not-a-book');
  });

  it('exports Parquet', async () => {
    const out = join(folder, `parquet-${count}`);
    expect((await track('export', '--parquet', out)).out).toMatch(/^3 drives/);
    expect(readdirSync(join(out, 'drive', 'car=saloon'))).toEqual(['year=2024']);
  });
});

it('says where there is no book, and makes none by looking', async () => {
  for (const command of [
    ['show'],
    ['due'],
    ['report'],
    ['backup', join(folder, 'x')],
    ['forget', '--all'],
    ['export', '--parquet', join(folder, 'y')],
  ]) {
    const { code, err } = await track(...command);
    expect([code, err.includes('no-book')], command.join(' ')).toEqual([2, true]);
  }
  expect(existsSync(book)).toBe(false);
});
