import { UserError } from '../../exit-code.js';
import { damaged } from './header.js';

/** Whether another process holds what is asked for. */
export function isBusy(error: unknown): boolean {
  return /^SQLITE_(BUSY|LOCKED)/.test(String((error as { code?: unknown } | null)?.code));
}

/** What SQLite says (sqlite.org/rescode.html) in the user's words; anything else stays what it is. */
export function asUserError(error: unknown, path: string): unknown {
  if (error instanceof UserError) return error;
  const code = (error as { code?: unknown }).code;
  const text = error instanceof Error ? error.message : String(error);
  if (typeof code !== 'string') return error;
  if (isBusy(error))
    return new UserError(
      'book-busy',
      `${path}: another process held the book and did not finish in time; try again. Nothing was changed`,
    );
  if (code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB') return damaged(path, text);
  if (
    code.startsWith('SQLITE_READONLY') ||
    code === 'SQLITE_PERM' ||
    code === 'EACCES' ||
    code === 'EROFS' ||
    code === 'EPERM'
  )
    return new UserError(
      'book-read-only',
      `${path}: the book may not be written; check the rights of the file and its folder, or give another with --book. Nothing was changed`,
    );
  if (code.startsWith('SQLITE_CANTOPEN') || code === 'ENOTDIR' || code === 'EEXIST' || code === 'ENOENT')
    return new UserError('book-unreadable', `${path}: the book could not be opened; check the path and its rights`);
  if (code === 'SQLITE_FULL' || code.startsWith('SQLITE_IOERR') || code === 'ENOSPC')
    return new UserError(
      'book-unwritable',
      `${path}: the book could not be written (${text}); check the room on the disk. What was added before is kept`,
    );
  return error;
}
