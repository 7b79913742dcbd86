import {
  carDocument,
  carPage,
  fleetDocument,
  fleetPage,
  redact,
  renderMarkdown,
  renderText,
  toJson,
} from '@telltale/core';
import type { Book } from '../../book/book.js';
import { EXIT, UserError } from '../../exit-code.js';
import { writePage } from '../../page.js';
import type { Terminal } from '../../terminal/output.js';
import { paintFor } from '../../terminal/paint.js';
import { Progress } from '../../terminal/progress.js';
import { carOf } from './car.js';
import { opened } from './opened.js';
import { fleetOf, reportOf } from './report-of.js';

export interface ShowFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
  readonly html?: string | undefined;
  readonly redact?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** `telltale track show`: one car, or all cars of the book, worst first. @returns the exit code. */
export async function showCommand(flags: ShowFlags, terminal: Terminal): Promise<number> {
  return shown(flags, terminal, undefined);
}

/** `telltale track report`: the same with what is due on a day, and as a page. @returns the exit code. */
export async function reportCommand(
  flags: ShowFlags & { readonly date?: string | undefined },
  terminal: Terminal,
): Promise<number> {
  return shown(flags, terminal, (flags.date ?? new Date().toISOString()).slice(0, 10));
}

async function shown(flags: ShowFlags, terminal: Terminal, asOf: string | undefined): Promise<number> {
  if (flags.json && flags.markdown)
    throw new UserError('usage', 'found --json and --markdown together, expected one of them');
  const book = await opened(flags, 'read', terminal);
  try {
    const { document, blocks, page } = await contentOf(book, flags, terminal, asOf);
    if (flags.html !== undefined) await writePage(flags.html, page());
    terminal.out(
      flags.json
        ? toJson(document)
        : flags.markdown
          ? renderMarkdown(blocks)
          : renderText(blocks, { width: terminal.width, paint: paintFor(terminal.color) }),
    );
  } finally {
    await book.close();
  }
  return EXIT.done;
}

async function contentOf(book: Book, flags: ShowFlags, terminal: Terminal, asOf: string | undefined) {
  const cars = flags.car === undefined ? (await book.cars()).map(({ car }) => car) : [];
  if (cars.length > 1) {
    const progress = new Progress(terminal, flags.quiet ?? false, 0);
    const found = await fleetOf(book, flags.book, cars, (i, car) => progress.begin(i, cars.length, car));
    progress.begin(cars.length, cars.length, '');
    const fleet = flags.redact ? redact(found) : found;
    return { document: fleet, blocks: fleetDocument(fleet), page: () => fleetPage(fleet) };
  }
  const found = await reportOf(book, flags.book, await carOf(flags.car, book), asOf);
  const report = flags.redact ? redact(found) : found;
  return { document: report, blocks: carDocument(report), page: () => carPage(report) };
}
