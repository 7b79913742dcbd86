import { accessSync, constants, readFileSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import type { Database } from 'better-sqlite3';

/** Bytes 18 and 19 of the header say whether the file has a write-ahead log (sqlite.org/fileformat2.html 1.3.3). */
const VERSIONS = [18, 19];
const WITHOUT_LOG = 1;

/**
 * Opens a book for reading. Readers of a book with a write-ahead log share memory with its writers through a file beside it
 * (sqlite.org/wal.html), which the last one to close takes away again; so reading needs the rights to write, and uses
 * them for nothing else. Without them (a disk or folder that is read-only) the file is read into memory as it stands.
 * @param outdated an old book: it has yet to be brought up to date
 */
export function openedToRead(
  Sqlite: typeof import('better-sqlite3'),
  path: string,
  timeout: number,
  outdated = false,
): Database {
  if (!mayWrite(path) && !hasLog(path)) {
    const bytes = readFileSync(path);
    for (const at of VERSIONS) bytes[at] = WITHOUT_LOG;
    return new Sqlite(bytes);
  }
  const database = new Sqlite(path, { timeout, fileMustExist: true });
  if (!outdated) database.pragma('query_only = ON');
  return database;
}

function mayWrite(path: string): boolean {
  try {
    accessSync(path, constants.W_OK);
    accessSync(dirname(path), constants.W_OK);
    return true;
  } catch {
    return false;
  }
}

/** Whether there is anything in a log beside the file; then it is read along, or SQLite says why not. */
function hasLog(path: string): boolean {
  return ['-wal', '-journal'].some((tail) => (statSync(path + tail, { throwIfNoEntry: false })?.size ?? 0) > 0);
}
