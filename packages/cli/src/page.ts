import { readFile, rename, rm, writeFile } from 'node:fs/promises';
import { UserError } from './exit-code.js';
import { userPath } from './files.js';

/**
 * A script that runs in a page, bundled beside the command line; from the sources, as tests run it, in the last build.
 * @throws Error when there is none: then the package is not whole.
 */
export async function browserScript(name: string): Promise<string> {
  for (const place of ['./', '../dist/']) {
    const text = await readFile(new URL(`${place}${name}.js`, import.meta.url), 'utf8').catch(() => undefined);
    if (text !== undefined) return text;
  }
  throw new Error(`${name}.js is not beside the bundle: install again, or "npm run build" in a checkout`);
}

/** Writes one page: whole or not at all. @throws UserError when the file cannot be written. */
export async function writePage(path: string, html: string): Promise<void> {
  const at = userPath(path);
  const part = `${at}.part-${process.pid}`;
  try {
    await writeFile(part, html);
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
