// Writes a book of every version that was ever published into test-data/books, as an old telltale would have left it.
// Usage: node scripts/run.mjs scripts/books.ts. Books that exist are kept: they are what was published.
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { APPLICATION_ID, MIGRATIONS } from '../packages/cli/src/book/sqlite/migrations.js';

const DRIVES = [
  { hash: 'a'.repeat(64), at: '2024-01-10T09:00:00', distance: 40_000, trim: 2.5 },
  { hash: 'b'.repeat(64), at: '2024-02-11T09:00:00', distance: 41_000.5, trim: 3.25 },
];

for (let version = 1; version <= MIGRATIONS.length; version++) {
  const path = join('test-data', 'books', `version-${version}.sqlite`);
  if (existsSync(path)) continue;
  const book = new Sqlite(path);
  book.transaction(() => {
    for (const step of MIGRATIONS.slice(0, version)) book.exec(step);
    book.pragma(`application_id = ${APPLICATION_ID}`);
    book.pragma(`user_version = ${version}`);
    book.prepare("INSERT INTO book VALUES ('secret', ?)").run('0123456789abcdef'.repeat(4));
    book.prepare("INSERT INTO car (label) VALUES ('saloon')").run();
    book.prepare("INSERT INTO measure (name, unit) VALUES ('fuel.trim.idle.bank1', '%')").run();
    for (const [i, { hash, at, distance, trim }] of DRIVES.entries()) {
      book
        .prepare(
          `INSERT INTO drive (hash, car, recorded_at, distance, level, coverage, index_low, index_high, findings, unproven)
           VALUES (?, 1, ?, ?, 'sound', 0.75, 80, 95.5, '[]', '["engine.misfire"]')`,
        )
        .run(hash, at, distance);
      book.prepare('INSERT INTO value VALUES (?, 1, ?, 0.5, 40)').run(i + 1, trim);
    }
    if (version >= 2)
      book
        .prepare("INSERT INTO note (car, date, distance, kind, text) VALUES (1, '2024-01-20', 40500, 'oil', 'changed')")
        .run();
  })();
  book.close();
}
