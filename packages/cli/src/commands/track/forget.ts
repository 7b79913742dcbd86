import { basename } from 'node:path';
import type { StoredDrive } from '../../book/book.js';
import { EXIT, UserError } from '../../exit-code.js';
import type { Terminal } from '../../terminal/output.js';
import { carOf } from './car.js';
import { opened } from './opened.js';

export interface ForgetFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly drive?: string | undefined;
  readonly all?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** `telltale track forget`: one drive, by its date, file or the beginning of its hash, or a car with all that is kept of it. */
export async function forgetCommand(flags: ForgetFlags, terminal: Terminal): Promise<number> {
  if ((flags.drive === undefined) === (flags.all !== true))
    throw new UserError(
      'usage',
      'expected either --drive DRIVE or --all: what is forgotten cannot be brought back but by a backup',
    );
  const book = await opened(flags, 'write', terminal);
  try {
    const car = await carOf(flags.car, book);
    const hash = flags.drive === undefined ? undefined : hashOf(flags.drive, await book.drives(car), car);
    const { drives, notes } = await book.forget(hash === undefined ? { car } : { car, hash });
    if (!flags.quiet)
      terminal.out(
        `${drives} drive${drives === 1 ? '' : 's'} and ${notes} note${notes === 1 ? '' : 's'} of ${car} forgotten\n`,
      );
    return EXIT.done;
  } finally {
    await book.close();
  }
}

/** Drives that a message lists. */
const LISTED = 8;

/** The one drive that is meant. @throws UserError `no-drive` with those that it may be */
function hashOf(given: string, drives: readonly StoredDrive[], car: string): string {
  const start = /^[0-9a-f]{4,64}$/i.test(given) ? given.toLowerCase() : undefined;
  const date = /^\d{4}-\d{2}/.test(given) ? given : undefined;
  const found = drives.filter(
    ({ hash, recordedAt, provenance }) =>
      (start !== undefined && hash.startsWith(start)) ||
      (date !== undefined && recordedAt.startsWith(date)) ||
      provenance.file === basename(given),
  );
  const [only] = found;
  if (found.length === 1 && only !== undefined) return only.hash;
  const near = (found.length === 0 ? drives : found).slice(-LISTED);
  const list = near.map(({ hash, recordedAt, provenance }) =>
    [hash.slice(0, 8), recordedAt.slice(0, 10), provenance.file].filter((part) => part !== '').join(' '),
  );
  const words =
    found.length === 0
      ? `expected the date of a drive of ${car}, the name of its file, or the first digits of its hash (at least 4); the last ones`
      : `which fits ${found.length} drives, expected one`;
  throw new UserError('no-drive', `found --drive ${given}, ${words}: ${list.join('; ')}`);
}
