import { createHash } from 'node:crypto';
import { constants } from 'node:fs';
import { access, readFile, stat } from 'node:fs/promises';
import { basename, resolve } from 'node:path';
import type { InputFile } from '@telltale/core';
import { UserError } from './exit-code.js';
import { fileBytes } from './file-bytes.js';

/** Paths are as the user sees them: npm runs scripts elsewhere, INIT_CWD remembers where the user stood. */
export function userPath(path: string): string {
  return resolve(path);
}

/** An input as the library takes it; what cannot be opened becomes an unusable input, so that the others go on. */
export async function openInput(path: string): Promise<InputFile> {
  const name = basename(path) || path;
  const at = userPath(path);
  try {
    const entry = await stat(at);
    if (entry.isDirectory()) {
      return broken(name, 'is-directory', `${name}: found a folder, expected a file; name the files in it`);
    }
    await access(at, constants.R_OK);
    const hash = createHash('sha256');
    return {
      name,
      size: entry.size,
      source: fileBytes(at),
      hasher: { update: (bytes) => hash.update(bytes), hex: () => hash.digest('hex') },
    };
  } catch (error) {
    return broken(name, ...describe(name, error));
  }
}

/** Text of a side file. @throws UserError that names the file and the reason. */
export async function readSideText(path: string, what: string): Promise<string> {
  try {
    return await readFile(userPath(path), 'utf8');
  } catch (error) {
    const [code, message] = describe(basename(path), error);
    throw new UserError(code, `${what} ${message}`);
  }
}

function broken(name: string, code: string, message: string): InputFile {
  return { name, source: new Uint8Array(0), fault: { code, message } };
}

function describe(name: string, error: unknown): [string, string] {
  const code = (error as NodeJS.ErrnoException).code ?? '';
  if (code === 'ENOENT' || code === 'ENOTDIR') return ['no-file', `${name}: no such file; check the path`];
  if (code === 'EACCES' || code === 'EPERM')
    return ['no-permission', `${name}: not readable with your permissions; check the file’s rights`];
  if (code === 'EISDIR') return ['is-directory', `${name}: found a folder, expected a file`];
  return ['unreadable', `${name}: could not be read (${code || String(error)})`];
}
