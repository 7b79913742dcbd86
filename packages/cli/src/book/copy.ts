import type { Book } from './book.js';

/** Drives that are written in one transaction. */
const BATCH = 200;

export interface Copied {
  readonly cars: number;
  readonly drives: number;
  readonly notes: number;
}

/**
 * Adds all of one book to another: drives and notes that are there already stay as they are. An empty book takes over key
 * and profiles. @returns what was new
 */
export async function copyBook(
  from: Pick<Book, 'cars' | 'drives' | 'notes' | 'profile' | 'secret'>,
  to: Book,
): Promise<Copied> {
  const before = new Set((await to.cars()).map(({ car }) => car));
  if (before.size === 0) await to.adoptSecret(await from.secret());
  const cars = await from.cars();
  let drives = 0;
  let notes = 0;
  for (const { car } of cars) {
    const all = await from.drives(car);
    for (let i = 0; i < all.length; i += BATCH) drives += (await to.add(all.slice(i, i + BATCH))).length;
    for (const note of await from.notes(car)) if (await to.note(note)) notes++;
    const profile = await from.profile(car);
    if (profile !== undefined && (await to.profile(car)) === undefined) await to.setProfile(car, profile);
  }
  return { cars: cars.filter(({ car }) => !before.has(car)).length, drives, notes };
}
