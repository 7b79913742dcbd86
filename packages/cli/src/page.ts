import { rename, rm, writeFile } from 'node:fs/promises';
import { type Block, renderHtml } from '@telltale/core';
import { UserError } from './exit-code.js';
import { userPath } from './files.js';

/** Writes a report as one page: whole or not at all. @throws UserError when the file cannot be written. */
export async function writePage(path: string, blocks: readonly Block[]): Promise<void> {
  const at = userPath(path);
  const part = `${at}.part-${process.pid}`;
  try {
    await writeFile(part, renderHtml(blocks));
    await rename(part, at);
  } catch (error) {
    await rm(part, { force: true });
    const { code } = error as NodeJS.ErrnoException;
    throw new UserError(
      'unwritable',
      `${path}: the page could not be written (${code ?? String(error)}); check the folder`,
    );
  }
}
