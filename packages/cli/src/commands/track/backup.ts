import { rm } from 'node:fs/promises';
import { holdSound } from '../../book/sqlite/sound.js';
import { EXIT, UserError } from '../../exit-code.js';
import { writeWhole } from '../../export/output-file.js';
import { userPath } from '../../files.js';
import type { Terminal } from '../../terminal/output.js';
import { opened } from './opened.js';

export interface BackupFlags {
  readonly book?: string | undefined;
  readonly quiet?: boolean | undefined;
}

/** `telltale track backup FILE`: the book as it stands at one moment, into one file; checked before it takes its name. */
export async function backupCommand(file: string, flags: BackupFlags, terminal: Terminal): Promise<number> {
  const book = await opened(flags, 'read', terminal);
  const at = userPath(file);
  if (at === book.place) {
    await book.close();
    throw new UserError('usage', `found ${file}, which is the book itself; expected another file`);
  }
  let drives = 0;
  try {
    drives = (await book.cars()).reduce((sum, each) => sum + each.drives, 0);
    await writeWhole(at, async (partial) => {
      try {
        await book.backup(partial);
        await holdSound(partial);
      } finally {
        for (const tail of ['-journal', '-wal', '-shm']) await rm(partial + tail, { force: true });
      }
    });
  } finally {
    await book.close();
  }
  if (!flags.quiet) terminal.out(`${drives === 1 ? 'one drive' : `${drives} drives`} backed up\n`);
  return EXIT.done;
}
