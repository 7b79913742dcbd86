import type { Access, Book } from './book.js';
import type { Opening } from './patience.js';
import { placeOf } from './place.js';

/**
 * Opens the book. The store's library is loaded here and nowhere else, so that no other command waits for it.
 * @param access `create`: made when it is not there; `read`: nothing is ever written
 * @throws UserError: no-book, not-a-book, book-newer, book-damaged, book-busy, book-read-only, no-store
 */
export async function openBook(given: string | undefined, access: Access, opening: Opening = {}): Promise<Book> {
  const place = placeOf(given);
  if (place.kind === 'file') {
    const { openSqliteBook } = await import('./sqlite/open.js');
    return openSqliteBook(place.path, access, opening);
  }
  const { openPostgresBook } = await import('./postgres/open.js');
  return openPostgresBook(place, access, opening);
}
