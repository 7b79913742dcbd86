import { randomBytes } from 'node:crypto';
import { rmSync } from 'node:fs';
import { open, rename, rm, stat } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { UserError } from '../exit-code.js';

/**
 * Writes one file whole or not at all: into a file of another name in the same folder, which then takes the name. An
 * existing file of that name is replaced; a folder or a device is not. Nothing is left behind when it fails or is interrupted.
 * @throws UserError `not-writable` that names the file and the reason.
 */
export async function writeWhole(path: string, write: (partial: string) => Promise<void>): Promise<void> {
  const name = basename(path);
  const partial = join(dirname(path), `.${name}.${randomBytes(6).toString('hex')}.partial`);
  const remove = () => rmSync(partial, { force: true });
  process.once('exit', remove);
  try {
    const before = await stat(path).catch(() => undefined);
    if (before !== undefined && !before.isFile())
      throw new UserError(
        'not-writable',
        `${name}: found a folder or a device, expected the name of a file; choose another`,
      );
    // Takes the name before anything else can: no link that lies there is followed.
    await (await open(partial, 'wx', before?.mode ?? 0o666)).close();
    await write(partial);
    await rename(partial, path);
  } catch (error) {
    await rm(partial, { force: true }).catch(() => undefined);
    throw error instanceof UserError ? error : refused(name, error);
  } finally {
    process.removeListener('exit', remove);
  }
}

function refused(name: string, error: unknown): Error {
  const { code } = error as NodeJS.ErrnoException;
  if (code === undefined) return error as Error;
  const reasons: Readonly<Record<string, string>> = {
    ENOENT: 'its folder does not exist; make it first',
    ENOTDIR: 'its folder is not a folder; check the path',
    EACCES: 'its folder is not writable with your permissions; choose another',
    EPERM: 'its folder is not writable with your permissions; choose another',
    EROFS: 'its folder is on a medium that cannot be written; choose another',
    ENOSPC: 'no space is left; make room or choose another folder',
  };
  return new UserError('not-writable', `${name}: could not be written: ${reasons[code] ?? code}`);
}
