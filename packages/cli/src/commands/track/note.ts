import type { LogbookNote, NoteKind } from '@telltale/core';
import { withoutIdentification } from '../../book/identity.js';
import { EXIT, UserError } from '../../exit-code.js';
import type { Terminal } from '../../terminal/output.js';
import { carOf, labelOf } from './car.js';
import { opened } from './opened.js';
import { keepReport } from './report-of.js';

export interface NoteFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly date?: string | undefined;
  readonly distance?: number | undefined;
  readonly remove?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** Longest text of a note. */
const LONGEST = 500;

/** `telltale track note KIND [TEXT...]`: what was done to the car, so that what it changes starts from a new baseline. */
export async function noteCommand(
  kind: NoteKind,
  words: readonly string[],
  flags: NoteFlags,
  terminal: Terminal,
): Promise<number> {
  const text = words
    .join(' ')
    .replace(/\p{Cc}/gu, ' ')
    .trim();
  if (text.length > LONGEST)
    throw new UserError('usage', `found a note of ${text.length} characters, expected at most ${LONGEST}`);
  const book = await opened(flags, flags.remove ? 'write' : 'create', terminal);
  try {
    const known = (await book.cars()).map(({ car }) => car);
    // A car may get its first note before its first drive.
    const car =
      flags.car !== undefined && !known.includes(flags.car) && !flags.remove
        ? await labelOf(flags.car, book, false)
        : await carOf(flags.car, book);
    const date = flags.date ?? new Date().toISOString().slice(0, 10);
    const note: LogbookNote = {
      car,
      date,
      distance: flags.distance ?? null,
      kind,
      text: withoutIdentification(text, await book.secret()),
    };
    if (flags.remove) {
      if (!(await book.removeNote(note)))
        throw new UserError(
          'no-note',
          `found no note of ${date}, ${kind}, "${text}" for ${car}; telltale track show lists them`,
        );
      await keepReport(book, car);
      if (!flags.quiet) terminal.out('note removed\n');
      return EXIT.done;
    }
    const fresh = await book.note(note);
    if (fresh) await keepReport(book, car);
    if (!flags.quiet) terminal.out(fresh ? 'noted\n' : 'this note stood there already\n');
    return EXIT.done;
  } finally {
    await book.close();
  }
}
