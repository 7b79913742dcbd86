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
