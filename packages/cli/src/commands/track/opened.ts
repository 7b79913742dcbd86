import type { Access, Book } from '../../book/book.js';
import { openBook } from '../../book/open.js';
import { PATIENCE } from '../../book/patience.js';
import { placeOf, shownPlace } from '../../book/place.js';
import { oneLine, type Terminal } from '../../terminal/output.js';

/** Opens the book that a command names. Where that, or using it, waits for another process, the user is told. */
export function opened(
  flags: { readonly book?: string | undefined; readonly quiet?: boolean | undefined },
  access: Access,
  terminal: Terminal,
): Promise<Book> {
  return openBook(flags.book, access, {
    onWait: flags.quiet
      ? undefined
      : () =>
          terminal.err(
            `telltale: book-waits: ${oneLine(shownPlace(placeOf(flags.book)))}: another process holds the book; waiting for it, at most ${PATIENCE / 1000} s\n`,
          ),
  });
}
