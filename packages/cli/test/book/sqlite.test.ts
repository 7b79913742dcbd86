import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll } from 'vitest';
import { openSqliteBook } from '../../src/book/sqlite/open.js';
import { bookContract } from './contract.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-book-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

bookContract('SQLite book', () => ({
  open: (name, access) => openSqliteBook(join(folder, `${name}.sqlite`), access),
}));
