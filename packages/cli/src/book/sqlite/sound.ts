import { asUserError } from './errors.js';
import { damaged, readHeader } from './header.js';
import { library } from './open.js';

/**
 * Reads all of a book and holds it against itself (sqlite.org/pragma.html#pragma_integrity_check). Nothing is written.
 * @throws UserError `book-damaged` and what readHeader throws
 */
export async function holdSound(path: string): Promise<void> {
  readHeader(path);
  const Sqlite = await library();
  let found: string;
  try {
    const database = new Sqlite(path, { readonly: true });
    try {
      found = String(database.pragma('integrity_check(1)', { simple: true }));
      if (found === 'ok' && (database.pragma('foreign_key_check') as unknown[]).length > 0)
        found = 'rows that belong to nothing';
    } finally {
      database.close();
    }
  } catch (error) {
    throw asUserError(error, path);
  }
  if (found !== 'ok') throw damaged(path, found.slice(0, 120));
}
