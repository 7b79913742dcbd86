import type { Database } from 'better-sqlite3';
import { asUserError } from './errors.js';
import { damaged, readHeader } from './header.js';
import { library } from './library.js';
import { openedToRead } from './read-only.js';

/** Milliseconds to wait for another process. */
const TIMEOUT = 5000;

/**
 * Reads all of a book and holds it against itself (sqlite.org/pragma.html#pragma_integrity_check). Nothing is written.
 * @throws UserError `book-damaged` and what readHeader throws
 */
export async function holdSound(path: string): Promise<void> {
  readHeader(path);
  const Sqlite = await library();
  let found: string;
  let database: Database | undefined;
  try {
    database = openedToRead(Sqlite, path, TIMEOUT);
    found = String(database.pragma('integrity_check(1)', { simple: true }));
    if (found === 'ok' && (database.pragma('foreign_key_check') as unknown[]).length > 0)
      found = 'rows that belong to nothing';
  } catch (error) {
    throw asUserError(error, path);
  } finally {
    database?.close();
  }
  if (found !== 'ok') throw damaged(path, found.slice(0, 120));
}
