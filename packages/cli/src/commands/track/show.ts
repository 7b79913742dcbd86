import { openBook } from '../../book/open.js';
import { EXIT } from '../../exit-code.js';
import type { Terminal } from '../../terminal/output.js';
import { carOf } from './car.js';

export interface ShowFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly json?: boolean | undefined;
}

/** `telltale track show`: one car of the book. @returns the exit code. */
export async function showCommand(flags: ShowFlags, terminal: Terminal): Promise<number> {
  const book = await openBook(flags.book, 'read');
  try {
    const car = await carOf(flags.car, book);
    const drives = await book.drives(car);
    terminal.out(`${JSON.stringify({ car, drives, notes: await book.notes(car) }, null, 2)}\n`);
  } finally {
    await book.close();
  }
  return EXIT.done;
}
