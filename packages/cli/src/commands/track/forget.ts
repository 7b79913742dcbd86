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

/** `telltale track forget`: one drive, by the beginning of its hash, or a car with all that is kept of it. */
export async function forgetCommand(flags: ForgetFlags, terminal: Terminal): Promise<number> {
  if ((flags.drive === undefined) === (flags.all !== true))
    throw new UserError(
      'usage',
      'expected either --drive HASH or --all: what is forgotten cannot be brought back but by a backup',
    );
  const book = await opened(flags, 'write', terminal);
  try {
    const car = await carOf(flags.car, book);
    const hash = flags.drive === undefined ? undefined : await hashOfDrive(flags.drive);
    const { drives, notes } = await book.forget(hash === undefined ? { car } : { car, hash });
    if (!flags.quiet)
      terminal.out(
        `${drives} drive${drives === 1 ? '' : 's'} and ${notes} note${notes === 1 ? '' : 's'} of ${car} forgotten\n`,
      );
    return EXIT.done;

    async function hashOfDrive(start: string): Promise<string> {
      const found = (await book.drives(car)).filter((each) => each.hash.startsWith(start.toLowerCase()));
      const [only] = found;
      if (!/^[0-9a-f]{4,64}$/i.test(start) || only === undefined)
        throw new UserError(
          'no-drive',
          `found --drive ${start}, expected the hash of a drive of ${car}, or its first digits (at least 4)`,
        );
      if (found.length > 1)
        throw new UserError('no-drive', `--drive ${start} fits ${found.length} drives; give more digits`);
      return only.hash;
    }
  } finally {
    await book.close();
  }
}
