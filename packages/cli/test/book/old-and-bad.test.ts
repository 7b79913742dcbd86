// Books of earlier versions, and books that cannot be used: clear errors, and the file as it was.

import { spawn, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  chmodSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { MIGRATIONS } from '../../src/book/sqlite/migrations.js';
import { openSqliteBook } from '../../src/book/sqlite/open.js';
import { holdSound } from '../../src/book/sqlite/sound.js';
import { drive } from './drives.js';

const published = fileURLToPath(new URL('../../../../test-data/books/', import.meta.url));
let folder = '';
let count = 0;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-bad-book-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const at = (): string => join(folder, `${++count}.sqlite`);
const printOf = (path: string): string => createHash('sha256').update(readFileSync(path)).digest('hex');

async function made(drives = 40): Promise<string> {
  const path = at();
  const book = await openSqliteBook(path, 'create');
  await book.add(Array.from({ length: drives }, (_, n) => drive(n)));
  await book.close();
  return path;
}

/** Every way of opening is refused with this code, and the folder holds exactly what it held. */
async function refused(path: string, code: string, accesses = ['read', 'write', 'create'] as const): Promise<void> {
  const [before, names] = [printOf(path), readdirSync(folder).sort()];
  for (const access of accesses) {
    await expect(openSqliteBook(path, access)).rejects.toMatchObject({ code, exit: 2 });
    expect(printOf(path)).toBe(before);
    expect(readdirSync(folder).sort()).toEqual(names);
  }
}

describe('old books', () => {
  it('has one of every version', () => {
    expect(readdirSync(published).sort()).toEqual(MIGRATIONS.map((_, i) => `version-${i + 1}.sqlite`));
  });

  it.each(MIGRATIONS.map((_, i) => i + 1))('brings version %i up to date, and loses nothing', async (version) => {
    for (const access of ['read', 'write', 'create'] as const) {
      const path = at();
      copyFileSync(join(published, `version-${version}.sqlite`), path);
      const book = await openSqliteBook(path, access);
      const [first, second] = await book.drives('saloon');
      expect(first).toMatchObject({
        hash: 'a'.repeat(64),
        recordedAt: '2024-01-10T09:00:00',
        distance: 40_000,
        measures: [{ id: 'fuel.trim.idle.bank1', value: 2.5, standardError: 0.5, samples: 40, unit: '%' }],
        summary: { level: 'sound', coverage: 0.75, index: { low: 80, high: 95.5 }, unproven: ['engine.misfire'] },
        provenance: { file: '', version: '', addedAt: '' },
      });
      expect(second!.distance).toBe(41_000.5);
      expect(await book.notes('saloon')).toHaveLength(version >= 2 ? 1 : 0);
      expect(await book.secret()).toBe('0123456789abcdef'.repeat(4));
      await book.close();
      const again = await openSqliteBook(path, 'write');
      expect(await again.add([drive(1)])).toHaveLength(1);
      expect(await again.note({ car: 'saloon', date: '2024-02-02', distance: null, kind: 'tyres', text: '' })).toBe(
        true,
      );
      await again.close();
      await holdSound(path);
    }
  });

  it('holds the tables that a new book has', async () => {
    const tables = (path: string): unknown => {
      const database = new Sqlite(path, { readonly: true });
      const all = database
        .prepare("SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY name")
        .all();
      database.close();
      return all;
    };
    const fresh = tables(await made(0));
    for (const name of readdirSync(published)) {
      const path = at();
      copyFileSync(join(published, name), path);
      await (await openSqliteBook(path, 'write')).close();
      expect(tables(path)).toEqual(fresh);
    }
  });
});

describe('books that cannot be used', () => {
  it('a newer book is refused, untouched', async () => {
    const path = await made(1);
    const database = new Sqlite(path);
    database.pragma(`user_version = ${MIGRATIONS.length + 1}`);
    database.close();
    await refused(path, 'book-newer');
  });

  it('another file, another database, a folder: refused, untouched', async () => {
    const text = at();
    writeFileSync(text, 'time,rpm\n0,800\n'.repeat(50));
    await refused(text, 'not-a-book');
    const other = at();
    const database = new Sqlite(other);
    database.exec('CREATE TABLE a (b); INSERT INTO a VALUES (1)');
    database.close();
    await refused(other, 'not-a-book');
    const marked = at();
    const second = new Sqlite(marked);
    second.pragma('application_id = 42');
    second.exec('CREATE TABLE a (b)');
    second.close();
    await refused(marked, 'not-a-book');
    const inside = at();
    mkdirSync(inside);
    await expect(openSqliteBook(inside, 'create')).rejects.toMatchObject({ code: 'not-a-book' });
  });

  it('a book that is cut short is called damaged, wherever it ends', async () => {
    const whole = await made();
    const size = readFileSync(whole).length;
    for (const length of [10, 99, 100, 512, 4096, Math.floor(size / 2), size - 1]) {
      const path = at();
      copyFileSync(whole, path);
      truncateSync(path, length);
      await refused(path, 'book-damaged');
    }
  });

  it('a book with bytes overwritten is never believed, and never written', async () => {
    const whole = readFileSync(await made(200));
    let damaged = 0;
    for (let page = 1; page < whole.length / 4096; page++) {
      const path = at();
      const bytes = Buffer.from(whole);
      bytes.fill(0xa5, page * 4096, page * 4096 + 64);
      writeFileSync(path, bytes);
      const before = printOf(path);
      await expect(holdSound(path)).rejects.toMatchObject({ code: 'book-damaged' });
      try {
        const book = await openSqliteBook(path, 'write');
        try {
          await book.drives('saloon');
        } finally {
          await book.close();
        }
      } catch (error) {
        expect(error).toMatchObject({ code: 'book-damaged' });
        damaged++;
      }
      expect(printOf(path)).toBe(before);
    }
    expect(damaged).toBeGreaterThan(0);
  });

  it('an add that meets damage is taken back whole', async () => {
    const whole = readFileSync(await made(200));
    const path = at();
    for (let page = 1; page < whole.length / 4096; page++) {
      const bytes = Buffer.from(whole);
      bytes.fill(0xa5, page * 4096, page * 4096 + 64);
      writeFileSync(path, bytes);
      const book = await openSqliteBook(path, 'write').catch(() => undefined);
      if (book === undefined) continue;
      const error = await book.add([drive(500)]).then(
        () => undefined,
        (reason: unknown) => reason,
      );
      await book.close();
      if (error === undefined) continue;
      expect(error).toMatchObject({ code: 'book-damaged' });
      expect(printOf(path)).toBe(createHash('sha256').update(bytes).digest('hex'));
    }
  });

  it('a book that another process is writing is waited for, then called busy', async () => {
    const path = await made(1);
    const holder = new Sqlite(path);
    holder.exec('BEGIN EXCLUSIVE');
    const before = printOf(path);
    const waits = openSqliteBook(path, 'write', { patience: 50 }).then(async (book) => {
      await book.add([drive(7)]).finally(() => book.close());
    });
    await expect(waits).rejects.toMatchObject({ code: 'book-busy' });
    expect(printOf(path)).toBe(before);
    holder.exec('ROLLBACK');
    holder.close();
    const book = await openSqliteBook(path, 'write', { patience: 50 });
    expect(await book.add([drive(7)])).toHaveLength(1);
    await book.close();
  });

  // Root may write what nobody may, so these run as another user there.
  const asUser = process.getuid?.() === 0;
  it.skipIf(process.platform === 'win32' || asUser)('a read-only book is shown, and not written', async () => {
    const path = await made(1);
    chmodSync(path, 0o400);
    const before = printOf(path);
    const book = await openSqliteBook(path, 'read');
    expect(await book.drives('saloon')).toHaveLength(1);
    await book.close();
    await expect(
      openSqliteBook(path, 'write').then(async (own) => own.add([drive(9)]).finally(() => own.close())),
    ).rejects.toMatchObject({ code: 'book-read-only' });
    expect(printOf(path)).toBe(before);
  });

  it.skipIf(!asUser || spawnSync('runuser', ['--version']).status !== 0)(
    'a read-only book, as a user without rights',
    async () => {
      const path = await made(1);
      chmodSync(folder, 0o755);
      chmodSync(path, 0o444);
      const before = printOf(path);
      const main = fileURLToPath(new URL('../../bin/telltale.js', import.meta.url));
      const tried = (command: string, ...args: string[]) =>
        spawnSync(
          'runuser',
          ['-u', 'nobody', '--', process.execPath, main, 'track', command, '--book', path, ...args],
          {
            encoding: 'utf8',
          },
        );
      const shown = tried('due', '--json');
      if (/EACCES|Cannot find|MODULE_NOT_FOUND|permission denied/i.test(shown.stderr)) return; // the checkout itself is closed to others
      expect(shown.stderr).toBe('');
      expect(shown.status).toBe(0);
      const written = tried('note', 'oil', '--car', 'saloon');
      expect(written.stderr).toContain('book-read-only');
      expect(written.status).toBe(2);
      expect(printOf(path)).toBe(before);
      // An old book is brought up to date in memory.
      const old = join(folder, 'old.sqlite');
      copyFileSync(join(published, 'version-1.sqlite'), old);
      chmodSync(old, 0o444);
      const names = readdirSync(folder).sort();
      const told = tried('show', '--json', '--book', old);
      expect(JSON.parse(told.stdout)).toMatchObject({ car: 'saloon', drives: 2 });
      expect(printOf(old)).toBe(printOf(join(published, 'version-1.sqlite')));
      expect(readdirSync(folder).sort()).toEqual(names);
    },
  );

  it('leaves nothing behind where a book cannot be made', async () => {
    const file = at();
    writeFileSync(file, 'x');
    await expect(openSqliteBook(join(file, 'inside', 'book.sqlite'), 'create')).rejects.toMatchObject({ exit: 2 });
    expect(existsSync(join(file, 'inside'))).toBe(false);
  });
});

it('a process that dies in the middle of a write leaves a book that opens as it was before', async () => {
  const path = await made(3);
  const script = `
    import Sqlite from 'better-sqlite3';
    const database = new Sqlite(${JSON.stringify(path)});
    database.pragma('cache_size = 1');
    database.exec('BEGIN');
    database.exec("UPDATE drive SET distance = -1");
    for (let i = 0; i < 3000; i++) database.prepare('INSERT INTO measure (name, unit) VALUES (?, ?)').run('m' + i, 'x'.repeat(200));
    process.kill(process.pid, 'SIGKILL');`;
  const child = spawn(process.execPath, ['--input-type=module', '-e', script], {
    cwd: fileURLToPath(new URL('../..', import.meta.url)),
  });
  await new Promise((resolve) => child.once('close', resolve));
  expect(existsSync(`${path}-wal`)).toBe(true);
  const book = await openSqliteBook(path, 'write');
  expect(await book.drives('saloon')).toEqual([0, 1, 2].map((n) => drive(n)));
  await book.close();
  await holdSound(path);
});
