import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openSqliteBook } from '../../src/book/sqlite/open.js';
import { holdSound } from '../../src/book/sqlite/sound.js';
import { bookContract } from './contract.js';
import { drive } from './drives.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-book-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

bookContract('SQLite book', () => ({
  open: (name, access, opening) => openSqliteBook(join(folder, `${name}.sqlite`), access, opening),
  async hold(name) {
    const holder = new Sqlite(join(folder, `${name}.sqlite`));
    holder.exec("BEGIN EXCLUSIVE; INSERT INTO car (label) VALUES ('half')");
    return async () => {
      holder.exec('ROLLBACK');
      holder.close();
    };
  },
}));

it('is one file when nobody has it open, and so is a backup of it, whoever reads it at that time', async () => {
  const own = join(folder, 'alone');
  mkdirSync(own);
  const [path, copy] = [join(own, 'book.sqlite'), join(own, 'copy.sqlite')];
  const book = await openSqliteBook(path, 'create');
  await book.add([drive(1)]);
  const reader = await openSqliteBook(path, 'read');
  expect(await reader.drives('saloon')).toEqual([drive(1)]);
  expect(readdirSync(own)).toContain('book.sqlite-wal');
  await reader.backup(copy);
  // Bytes 18 and 19 of the header, 1 = no write-ahead log: https://www.sqlite.org/fileformat2.html section 1.3.3
  expect([...readFileSync(copy).subarray(18, 20)]).toEqual([1, 1]);
  await book.close();
  await reader.close();
  await holdSound(copy);
  await holdSound(path);
  expect(readdirSync(own).sort()).toEqual(['book.sqlite', 'copy.sqlite']);
  for (const each of [path, copy]) {
    const again = await openSqliteBook(each, 'read');
    expect(await again.drives('saloon')).toEqual([drive(1)]);
    await again.close();
  }
  expect(readdirSync(own).sort()).toEqual(['book.sqlite', 'copy.sqlite']);
});

it('writes nothing through a book that was opened for reading', async () => {
  const path = join(folder, 'read.sqlite');
  await (await openSqliteBook(path, 'create')).close();
  const before = readFileSync(path);
  const reader = await openSqliteBook(path, 'read');
  await expect(reader.add([drive(1)])).rejects.toMatchObject({ code: 'book-read-only' });
  await reader.close();
  expect(readFileSync(path).equals(before)).toBe(true);
});

it('holds nothing any more of what was forgotten', async () => {
  const path = join(folder, 'forgotten.sqlite');
  const book = await openSqliteBook(path, 'create');
  await book.add(Array.from({ length: 300 }, (_, n) => drive(n, n % 2 === 0 ? 'hidden saloon' : 'other')));
  await book.note({ car: 'hidden saloon', date: '2021-01-01', distance: null, kind: 'oil', text: 'hidden garage' });
  await book.setProfile('hidden saloon', '{"id":"hidden saloon"}');
  await book.close();
  const holds = (text: string): boolean => readFileSync(path).includes(text);
  expect(holds('hidden')).toBe(true);
  expect(holds('März 4.csv')).toBe(true);
  const again = await openSqliteBook(path, 'write');
  await again.forget({ car: 'hidden saloon' });
  await again.close();
  expect(holds('hidden')).toBe(false);
  expect(holds('März 4.csv')).toBe(false);
  expect(holds(drive(4, 'hidden saloon').hash)).toBe(false);
  expect(holds('März 5.csv')).toBe(true);
});
