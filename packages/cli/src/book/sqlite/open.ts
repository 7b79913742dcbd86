import { randomBytes } from 'node:crypto';
import { chmodSync, mkdirSync } from 'node:fs';
import { dirname } from 'node:path';
import type { Database } from 'better-sqlite3';
import { UserError } from '../../exit-code.js';
import type { Access, Book } from '../book.js';
import { type Opening, Patience } from '../patience.js';
import { asUserError, isBusy } from './errors.js';
import { newer, readHeader } from './header.js';
import { library } from './library.js';
import { APPLICATION_ID, MIGRATIONS } from './migrations.js';
import { openedToRead } from './read-only.js';
import { SqliteBook } from './sqlite-book.js';

export async function openSqliteBook(path: string, access: Access, opening: Opening = {}): Promise<Book> {
  const header = readHeader(path);
  if (access !== 'create' && header.kind !== 'book') {
    throw new UserError(
      'no-book',
      `${path}: there is no logbook yet; telltale track add FILE... begins one, --book names another`,
    );
  }
  const Sqlite = await library();
  const patience = new Patience(opening);
  // An older book is brought up to date where that is allowed, also for reading.
  const outdated = header.kind === 'book' && header.version < MIGRATIONS.length;
  const writes = access !== 'read' || outdated;
  let database: Database | undefined;
  try {
    if (header.kind === 'absent') mkdirSync(dirname(path), { recursive: true, mode: 0o700 });
    const made =
      access === 'read'
        ? openedToRead(Sqlite, path, patience.slice, outdated)
        : new Sqlite(path, { timeout: patience.slice });
    database = made;
    made.pragma('foreign_keys = ON');
    if (writes) {
      // A commit survives a loss of power, and what is forgotten is overwritten (sqlite.org/pragma.html).
      made.pragma('synchronous = FULL');
      made.pragma('secure_delete = ON');
    }
    const version = await patience.tried(() => {
      if (writes) migrate(made);
      // The header may have been read while another process was writing: the database itself is asked.
      return Number(made.pragma('user_version', { simple: true }));
    }, isBusy);
    if (version > MIGRATIONS.length) throw newer(path, version);
    if (header.kind !== 'book') keepPrivate(path);
    return new SqliteBook(path, made, patience);
  } catch (error) {
    database?.close();
    throw asUserError(error, path);
  }
}

/** Only the user reads a new book. */
function keepPrivate(path: string): void {
  try {
    chmodSync(path, 0o600);
  } catch {
    // A file system without rights.
  }
}

/** All missing steps in one transaction; of several processes that start at once one does it, the others wait. */
function migrate(database: Database): void {
  const now = () => Number(database.pragma('user_version', { simple: true }));
  if (now() >= MIGRATIONS.length) return;
  database
    .transaction(() => {
      const from = now();
      for (const step of MIGRATIONS.slice(from)) database.exec(step);
      if (from >= MIGRATIONS.length) return;
      database.pragma(`application_id = ${APPLICATION_ID}`);
      database.pragma(`user_version = ${MIGRATIONS.length}`);
      database
        .prepare("INSERT OR IGNORE INTO book (key, value) VALUES ('secret', ?)")
        .run(randomBytes(32).toString('hex'));
    })
    .immediate();
}
