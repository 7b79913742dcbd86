import { createHash } from 'node:crypto';
import { constants } from 'node:fs';
import { access, readdir, readFile, stat } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import type { InputFile } from '@telltale/core';
import { UserError } from './exit-code.js';
import { fileBytes, ownFileBytes } from './file-bytes.js';
import { secondThread } from './second-thread.js';

/** Paths are as the user sees them: npm runs scripts elsewhere, INIT_CWD remembers where the user stood. */
export function userPath(path: string): string {
  return resolve(path);
}

/** Extensions of logs that are looked for in a folder. */
const LOGS = /\.(?:csv|txt|tsv|log|gz)$/i;

/** Folders replaced by the logs in them (not deeper), in order of their names; other paths as they are. */
export async function expandFolders(paths: readonly string[]): Promise<string[]> {
  const files: string[] = [];
  for (const path of paths) {
    const entries = await readdir(userPath(path), { withFileTypes: true }).catch(() => []);
    const logs = entries.filter(({ name }) => name[0] !== '.' && LOGS.test(name)).map(({ name }) => name);
    // Code units: the same order in every language.
    logs.sort((a, b) => (a < b ? -1 : 1));
    const found: string[] = [];
    for (const name of logs) if (await isFile(join(path, name))) found.push(join(path, name));
    files.push(...(found.length === 0 ? [path] : found));
  }
  return files;
}

async function isFile(path: string): Promise<boolean> {
  return stat(userPath(path)).then(
    (entry) => entry.isFile(),
    () => false,
  );
}

/** An input that a second thread may help with. */
export interface OpenedInput extends InputFile {
  /** Ends the second thread if it reads. */
  readonly halt?: () => void;
}

/** An input as the library takes it; what cannot be opened becomes an unusable input, so that the others go on. */
export async function openInput(
  path: string,
  onBytes?: (count: number) => void,
  /** Whether rules will look at it: a second thread then helps them too. */
  judged = false,
): Promise<OpenedInput> {
  const name = basename(path) || path;
  const at = userPath(path);
  try {
    const entry = await stat(at);
    if (entry.isDirectory()) {
      return broken(
        name,
        'is-directory',
        `${name}: found a folder without a log file (.csv, .txt, .tsv, .log, .gz), expected recordings; name the files`,
      );
    }
    await access(at, constants.R_OK);
    const hash = createHash('sha256');
    const thread = secondThread(at, entry.size);
    const reached = onBytes === undefined ? undefined : onceEach(onBytes);
    return {
      name,
      size: entry.size,
      source: thread === undefined ? fileBytes(at, onBytes) : ownFileBytes(at, summed(reached)),
      ...(thread === undefined ? {} : { helper: thread.forReading(judged, reached), halt: () => thread.halt() }),
      ...(thread === undefined || !judged ? {} : { observer: thread.forRules() }),
      hasher: { update: (bytes) => hash.update(bytes), hex: () => hash.digest('hex') },
    };
  } catch (error) {
    return broken(name, ...describe(name, error));
  }
}

/** For readings of one file: tells of every byte once, when one of them has reached it. */
function onceEach(onBytes: (count: number) => void): (byte: number) => void {
  let known = 0;
  return (byte) => {
    const fresh = Math.max(0, byte - known);
    known += fresh;
    onBytes(fresh);
  };
}

/** For one reading from the start: how far it is, from what it reads at a time. */
function summed(reached: ((byte: number) => void) | undefined): ((count: number) => void) | undefined {
  let at = 0;
  return reached === undefined
    ? undefined
    : (count) => {
        at += count;
        reached(at);
      };
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
