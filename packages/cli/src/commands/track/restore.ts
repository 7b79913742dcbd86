import { existsSync } from 'node:fs';
import { rename } from 'node:fs/promises';
import type { Book } from '../../book/book.js';
import { type Copied, copyBook } from '../../book/copy.js';
import { placeOf } from '../../book/place.js';
import { openSqliteBook } from '../../book/sqlite/open.js';
import { holdSound } from '../../book/sqlite/sound.js';
import { EXIT, UserError } from '../../exit-code.js';
import { writeWhole } from '../../export/output-file.js';
import { userPath } from '../../files.js';
import type { Terminal } from '../../terminal/output.js';
import { opened } from './opened.js';

export interface RestoreFlags {
  readonly book?: string | undefined;
  readonly merge?: boolean | undefined;
  readonly replace?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/**
 * `telltale track restore FILE`: a backup becomes the book. A book that holds anything is never overwritten: --merge adds what
 * it lacks, --replace moves its file aside first.
 */
export async function restoreCommand(file: string, flags: RestoreFlags, terminal: Terminal): Promise<number> {
  if (flags.merge && flags.replace)
    throw new UserError('usage', 'found --merge and --replace together, expected one of them');
  const at = userPath(file);
  if (!existsSync(at)) throw new UserError('no-file', `${file}: no such file; check the path`);
  await holdSound(at);
  const place = placeOf(flags.book);
  if (place.kind === 'file' && place.path === at)
    throw new UserError('usage', `found ${file}, which is the book itself; expected a backup`);
  if (flags.replace) await moveAside(place, terminal);
  const from = await openSqliteBook(at, 'read');
  let copied: Copied;
  try {
    if (place.kind === 'file' && !existsSync(place.path)) copied = await anew(place.path, from);
    else copied = await into(flags, from, terminal);
  } finally {
    await from.close();
  }
  if (!flags.quiet) terminal.out(`${words(copied)}\n`);
  return EXIT.done;
}

function words({ cars, drives, notes }: Copied): string {
  const counted = (count: number, one: string): string => `${count} ${one}${count === 1 ? '' : 's'}`;
  return `${counted(cars, 'car')}, ${counted(drives, 'drive')} and ${counted(notes, 'note')} restored`;
}

/** A new book: whole or not at all. */
async function anew(path: string, from: Book): Promise<Copied> {
  await (await openSqliteBook(path, 'create')).close();
  await writeWhole(path, (partial) => from.backup(partial));
  const book = await openSqliteBook(path, 'write');
  try {
    const cars = await book.cars();
    return {
      cars: cars.length,
      drives: cars.reduce((sum, each) => sum + each.drives, 0),
      notes: cars.reduce((sum, each) => sum + each.notes, 0),
    };
  } finally {
    await book.close();
  }
}

async function into(flags: RestoreFlags, from: Book, terminal: Terminal): Promise<Copied> {
  const book = await opened(flags, 'create', terminal);
  try {
    const held = (await book.cars()).length;
    if (held > 0 && !flags.merge)
      throw new UserError(
        'book-not-empty',
        `${book.place}: found a book of ${held === 1 ? 'one car' : `${held} cars`}, expected none; --merge adds what it lacks, --replace moves it aside. Nothing was changed`,
      );
    return await copyBook(from, book);
  } finally {
    await book.close();
  }
}

async function moveAside(place: ReturnType<typeof placeOf>, terminal: Terminal): Promise<void> {
  if (place.kind === 'server')
    throw new UserError(
      'usage',
      'found --replace for a book on a server, expected a file; use an empty database, or --merge',
    );
  if (!existsSync(place.path)) return;
  let n = 1;
  while (existsSync(`${place.path}.replaced-${n}`)) n++;
  const old = `${place.path}.replaced-${n}`;
  // What a cut-off write left belongs to the old file: with it, the old book can still be opened.
  for (const tail of ['', '-journal', '-wal', '-shm'])
    if (existsSync(place.path + tail)) await rename(place.path + tail, old + tail);
  terminal.err(`telltale: moved-aside: the book that was there is now ${old}\n`);
}
