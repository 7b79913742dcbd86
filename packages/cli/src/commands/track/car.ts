import type { Book } from '../../book/book.js';
import { holdsIdentification, withoutIdentification } from '../../book/identity.js';
import { UserError } from '../../exit-code.js';

/** Longest label of a car. */
const LONGEST = 80;

/**
 * The label as the book holds it: an identification number becomes its hash unless the user wants it kept.
 * @throws UserError for an empty label, or one that is too long or holds control characters
 */
export async function labelOf(given: string, book: Book, keep: boolean): Promise<string> {
  const label = given.trim();
  if (label === '' || label.length > LONGEST || /\p{Cc}/u.test(label))
    throw new UserError(
      'usage',
      `found --car "${given.slice(0, LONGEST)}", expected a label of 1 to ${LONGEST} characters`,
    );
  return keep || !holdsIdentification(label) ? label : withoutIdentification(label, await book.secret());
}

/** The car that is meant, among those of the book. @throws UserError `no-car`, `which-car` */
export async function carOf(given: string | undefined, book: Book): Promise<string> {
  const cars = (await book.cars()).map(({ car }) => car);
  if (given !== undefined) {
    if (cars.includes(given)) return given;
    const hashed = await labelOf(given, book, false);
    if (cars.includes(hashed)) return hashed;
    throw new UserError('no-car', `found --car ${given}, expected a car of the book: ${listed(cars)}`);
  }
  const [only] = cars;
  if (only === undefined)
    throw new UserError('no-car', `${book.place}: the book holds no car yet; telltale track add FILE...`);
  if (cars.length > 1)
    throw new UserError(
      'which-car',
      `the book holds ${cars.length} cars, expected --car with one of them: ${listed(cars)}`,
    );
  return only;
}

function listed(cars: readonly string[]): string {
  if (cars.length === 0) return 'it holds none yet';
  const shown = cars.slice(0, 12).join(', ');
  return cars.length > 12 ? `${shown}, … (${cars.length} in all)` : shown;
}
