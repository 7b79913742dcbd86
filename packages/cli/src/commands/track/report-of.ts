import { createHash } from 'node:crypto';
import { statSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import {
  type CarReport,
  carCourses,
  carReport,
  dueFor,
  type FleetReport,
  fleetLine,
  fleetReport,
  RULES,
  type Vehicle,
} from '@telltale/core';
import type { Book } from '../../book/book.js';
import { openBook } from '../../book/open.js';
import { VERSION } from '../../version.js';

/** Digest of the code that computes a report, put in by the build; absent where the sources run as they are. */
declare const TELLTALE_LOGBOOK: string | undefined;

let known: string | undefined;

/**
 * Says what a report was computed by: code of the logbook and limits of the rules. A telltale that differs in neither shows
 * what another one kept, so that an update mostly computes no car anew.
 */
function print(): string {
  if (known === undefined) {
    const code =
      typeof TELLTALE_LOGBOOK === 'string'
        ? TELLTALE_LOGBOOK
        : `${VERSION} ${statSync(fileURLToPath(import.meta.url)).mtimeMs}`;
    const limits = JSON.stringify(RULES.map(({ id, limits: own }) => [id, own]));
    known = `${code} ${createHash('sha256').update(limits).digest('hex').slice(0, 32)}`;
  }
  return known;
}

/** Everything that is said of one car but what is due: from the book where it was kept, else computed. */
async function keptOrComputed(book: Book, car: string): Promise<{ report: CarReport; revision?: number }> {
  const kept = await book.report(car, print());
  if (kept !== undefined) return { report: JSON.parse(kept) as CarReport };
  const revision = await book.revision(car);
  const [drives, notes, vehicle] = [await book.drives(car), await book.notes(car), await profileOf(book, car)];
  // Where a drive came from is the book's business, not the report's.
  const entries = drives.map(({ provenance: _, ...entry }) => entry);
  return { report: carReport(car, entries, notes, carCourses(entries, notes, RULES, vehicle)), revision };
}

async function profileOf(book: Book, car: string): Promise<Vehicle | undefined> {
  const json = await book.profile(car);
  return json === undefined ? undefined : (JSON.parse(json) as Vehicle);
}

/**
 * Computes the report of a car and keeps it, so that showing it waits for nothing. A report is never needed to be kept: a
 * book that cannot be written is shown all the same.
 */
export async function keepReport(book: Book, car: string): Promise<void> {
  const { report, revision } = await keptOrComputed(book, car);
  if (revision !== undefined) await book.keepReport(car, revision, print(), JSON.stringify(report));
}

/**
 * Everything that is said of one car.
 * @param given place of the book as the user gave it, where a report that had to be computed is kept
 * @param asOf ISO date that counts as today; undefined = nothing is called due
 */
export async function reportOf(book: Book, given: string | undefined, car: string, asOf?: string): Promise<CarReport> {
  const { report, revision } = await keptOrComputed(book, car);
  if (revision !== undefined) await keepElsewhere(given, car, revision, report);
  if (asOf === undefined) return report;
  const drifting = report.measures.filter(({ state }) => state === 'drifting').map(({ name }) => name);
  const [entries, notes, vehicle] = [await book.drives(car), await book.notes(car), await profileOf(book, car)];
  const { cautions, ...rest } = report;
  return { ...rest, due: dueFor({ car, entries, notes, asOf, vehicle, drifting }), cautions };
}

/** The book is open for reading only: what may be written at once is written through a second opening, or not at all. */
async function keepElsewhere(
  given: string | undefined,
  car: string,
  revision: number,
  report: CarReport,
): Promise<void> {
  try {
    const book = await openBook(given, 'write', { patience: 0 });
    try {
      await book.keepReport(car, revision, print(), JSON.stringify(report));
    } finally {
      await book.close();
    }
  } catch {
    // Read-only, or busy: it is computed again the next time.
  }
}

/** @param onCar called before each car */
export async function fleetOf(
  book: Book,
  given: string | undefined,
  cars: readonly string[],
  onCar: (i: number, car: string) => void,
): Promise<FleetReport> {
  const lines = [];
  for (const [i, car] of cars.entries()) {
    onCar(i, car);
    lines.push(fleetLine(await reportOf(book, given, car)));
    // Lets an interruption through.
    await new Promise((resolve) => setImmediate(resolve));
  }
  return fleetReport(lines);
}
