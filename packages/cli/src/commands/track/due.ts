import { type CarDue, dueDocument, dueFor, dueList, renderText, toJson, type Vehicle } from '@telltale/core';
import type { Book } from '../../book/book.js';
import { openBook } from '../../book/open.js';
import { EXIT } from '../../exit-code.js';
import type { Terminal } from '../../terminal/output.js';
import { paintFor } from '../../terminal/paint.js';
import { carOf } from './car.js';

export interface DueFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly date?: string | undefined;
  readonly json?: boolean | undefined;
}

/** `telltale track due`: what is due for one car, or for each car of the book, the most urgent first. */
export async function dueCommand(flags: DueFlags, terminal: Terminal): Promise<number> {
  const book = await openBook(flags.book, 'read');
  try {
    const asOf = (flags.date ?? new Date().toISOString()).slice(0, 10);
    const cars = flags.car === undefined ? (await book.cars()).map(({ car }) => car) : [await carOf(flags.car, book)];
    if (cars.length === 0) await carOf(undefined, book);
    const all: CarDue[] = [];
    for (const car of cars) all.push(await dueOf(book, car, asOf));
    const document = dueList(asOf, all);
    terminal.out(
      flags.json
        ? toJson(document)
        : renderText(dueDocument(document), { width: terminal.width, paint: paintFor(terminal.color) }),
    );
  } finally {
    await book.close();
  }
  return EXIT.done;
}

async function dueOf(book: Book, car: string, asOf: string): Promise<CarDue> {
  const json = await book.profile(car);
  return dueFor({
    car,
    entries: await book.drives(car),
    notes: await book.notes(car),
    asOf,
    vehicle: json === undefined ? undefined : (JSON.parse(json) as Vehicle),
  });
}
