import { closeSync, existsSync, fstatSync, openSync, readSync } from 'node:fs';
import { UserError } from '../../exit-code.js';
import { APPLICATION_ID, MIGRATIONS } from './migrations.js';

/** What the first bytes of the file say, read without the database library: nothing is locked or written. */
export type Header = { readonly kind: 'absent' | 'empty' } | { readonly kind: 'book'; readonly version: number };

const MAGIC = 'SQLite format 3\0';
/** Offsets in the file header: https://www.sqlite.org/fileformat2.html section 1.3. */
const PAGE_SIZE = 16;
const PAGE_COUNT = 28;
const USER_VERSION = 60;
const APPLICATION = 68;
const HEADER = 100;
/** Looks at a file that seems wrong, and milliseconds between two. */
const TRIES = 4;
const PAUSE = 25;

/**
 * @throws UserError `not-a-book` for any other file, `book-newer` for a book of a newer telltale, `book-damaged` for one
 * that is cut short, `book-unreadable` where the rights do not allow reading
 */
export function readHeader(path: string): Header {
  for (let tries = 1; ; tries++) {
    try {
      return headerNow(path);
    } catch (error) {
      // Another process may be in the middle of a commit: what is wrong only for a moment is not wrong.
      if (!(error instanceof UserError) || error.code === 'book-newer' || tries === TRIES) throw error;
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, PAUSE);
    }
  }
}

function headerNow(path: string): Header {
  const bytes = Buffer.alloc(HEADER);
  let size: number;
  let read: number;
  try {
    if (!existsSync(path)) return { kind: 'absent' };
    const file = openSync(path, 'r');
    try {
      const stat = fstatSync(file);
      if (!stat.isFile()) throw notABook(path, stat.isDirectory() ? 'a folder' : 'no plain file');
      size = stat.size;
      read = readSync(file, bytes, 0, HEADER, 0);
    } finally {
      closeSync(file);
    }
  } catch (error) {
    if (error instanceof UserError) throw error;
    const { code } = error as NodeJS.ErrnoException;
    throw new UserError(
      'book-unreadable',
      `${path}: the book could not be read (${code ?? String(error)}); check its rights`,
    );
  }
  // What lies beside is applied, or rolled back, when the book is opened; until then the header need not be right.
  const rolling = existsSync(`${path}-journal`) || existsSync(`${path}-wal`);
  if (size === 0) return { kind: 'empty' };
  if (bytes.toString('latin1', 0, MAGIC.length) !== MAGIC)
    throw read < HEADER ? damaged(path, `it ends after ${size} bytes`) : notABook(path, 'another kind of file');
  if (read < HEADER) throw damaged(path, `it ends after ${size} bytes`);
  const application = bytes.readUInt32BE(APPLICATION);
  const version = bytes.readUInt32BE(USER_VERSION);
  if (application === 0 && version === 0) {
    // The first transaction of a new book writes both; a database of somebody else mostly has neither.
    if (rolling) return { kind: 'book', version: 0 };
    throw notABook(path, 'a database of another program');
  }
  if (application !== APPLICATION_ID) throw notABook(path, 'a database of another program');
  if (version > MIGRATIONS.length) throw newer(path, version);
  const rawSize = bytes.readUInt16BE(PAGE_SIZE);
  const pageSize = rawSize === 1 ? 65_536 : rawSize;
  const pages = bytes.readUInt32BE(PAGE_COUNT);
  if (!rolling && pages * pageSize > size) throw damaged(path, `found ${size} bytes, expected ${pages * pageSize}`);
  return { kind: 'book', version };
}

export function newer(path: string, version: number): UserError {
  return new UserError(
    'book-newer',
    `${path}: found a book of version ${version}, expected at most ${MIGRATIONS.length}: it was written by a newer telltale; update telltale. Nothing was changed`,
  );
}

function notABook(path: string, found: string): UserError {
  return new UserError(
    'not-a-book',
    `${path}: found ${found}, expected a logbook of telltale: check --book. Nothing was changed`,
  );
}

export function damaged(path: string, why: string): UserError {
  return new UserError(
    'book-damaged',
    `${path}: the book is damaged (${why}); bring back a backup with telltale track restore. Nothing was changed`,
  );
}
