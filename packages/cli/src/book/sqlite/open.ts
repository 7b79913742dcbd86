import { randomBytes } from 'node:crypto';
import { chmodSync, mkdirSync } from 'node:fs';
import { dirname } from 'node:path';
import type { Database } from 'better-sqlite3';
import { UserError } from '../../exit-code.js';
import type { Access, Book } from '../book.js';
import { asUserError } from './errors.js';
import { readHeader } from './header.js';
import { APPLICATION_ID, MIGRATIONS } from './migrations.js';
import { SqliteBook } from './sqlite-book.js';

/** Milliseconds that a writer waits for another one. */
const PATIENCE = 20_000;

export interface SqliteOptions {
  /** Milliseconds to wait for a locked book. */
  readonly patience?: number;
}

export async function openSqliteBook(path: string, access: Access, options: SqliteOptions = {}): Promise<Book> {
  const header = readHeader(path);
  if (access !== 'create' && header.kind !== 'book') {
    throw new UserError(
      'no-book',
      `${path}: there is no logbook yet; telltale track add FILE... begins one, --book names another`,
    );
  }
  const Sqlite = await library();
  const writes = access !== 'read';
  let database: Database | undefined;
  try {
    if (header.kind === 'absent') mkdirSync(dirname(path), { recursive: true, mode: 0o700 });
    // An older book is brought up to date where that is allowed, also for reading.
    const outdated = header.kind === 'book' && header.version < MIGRATIONS.length;
    database = new Sqlite(path, { readonly: !writes && !outdated, timeout: options.patience ?? PATIENCE });
    database.pragma('foreign_keys = ON');
    if (writes || outdated) {
      // A rollback journal: the book is one file that may lie on a read-only disk or be copied; full: a commit survives a
      // loss of power (sqlite.org/pragma.html#pragma_synchronous).
      database.pragma('journal_mode = DELETE');
      database.pragma('synchronous = FULL');
      migrate(database);
      if (header.kind !== 'book') keepPrivate(path);
    }
    // The header may have been read while another process was writing: the database itself is asked.
    const version = Number(database.pragma('user_version', { simple: true }));
    if (version > MIGRATIONS.length) readHeader(path);
    return new SqliteBook(path, database);
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

export async function library(): Promise<typeof import('better-sqlite3')> {
  try {
    return (await import('better-sqlite3')).default;
  } catch (error) {
    throw new UserError(
      'no-store',
      `the logbook needs the package better-sqlite3, which could not be loaded (${error instanceof Error ? error.message.split('\n')[0] : String(error)}); install it with: npm install better-sqlite3`,
    );
  }
}
