import { type CarDue, dueDocument, dueList, renderText, toJson } from '@telltale/core';
import { EXIT } from '../../exit-code.js';
import type { Terminal } from '../../terminal/output.js';
import { paintFor } from '../../terminal/paint.js';
import { Progress } from '../../terminal/progress.js';
import { carOf } from './car.js';
import { opened } from './opened.js';
import { reportOf } from './report-of.js';

export interface DueFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly date?: string | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** `telltale track due`: what is due for one car, or for each car of the book, the most urgent first. */
export async function dueCommand(flags: DueFlags, terminal: Terminal): Promise<number> {
  const book = await opened(flags, 'read', terminal);
  try {
    const asOf = (flags.date ?? new Date().toISOString()).slice(0, 10);
    const cars = flags.car === undefined ? (await book.cars()).map(({ car }) => car) : [await carOf(flags.car, book)];
    if (cars.length === 0) await carOf(undefined, book);
    const all: CarDue[] = [];
    const progress = new Progress(terminal, flags.quiet ?? false, 0);
    for (const [i, car] of cars.entries()) {
      progress.begin(i, cars.length, car);
      // What drifts is due sooner, so that it takes the whole report.
      const { due } = await reportOf(book, flags.book, car, asOf);
      if (due !== undefined) all.push(due);
    }
    progress.begin(cars.length, cars.length, '');
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
