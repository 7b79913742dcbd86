import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import { cachedDataVersionTag } from 'node:v8';
import { Script } from 'node:vm';

/** What a CommonJS script exports. */
export type Exports = Readonly<Record<string, unknown>>;

/**
 * Runs a script of the bundle: ASCII text of one function (exports, require, module, url of the script). Where the code that
 * V8 compiled from it lies beside it, for this version of V8 and these settings, that is taken; else it is compiled here.
 * @param path absolute; named by its contents, because V8 knows a text by its length alone
 * @throws the error of the file system when there is no such script, and whatever the script throws
 */
export function runScript(path: string): { readonly exports: Exports; readonly script: Script } {
  const cachedData = codeBeside(path);
  const script = new Script(readFileSync(path, 'latin1'), {
    filename: path,
    ...(cachedData === undefined ? {} : { cachedData }),
  });
  const module = { exports: {} };
  script.runInThisContext()(module.exports, createRequire(path), module, pathToFileURL(path).href);
  return { exports: module.exports, script };
}

/** Where the compiled code of a script is kept; different versions of V8, or the same with other settings, keep their own. */
export function codeFile(path: string): string {
  return `${path}.${cachedDataVersionTag().toString(16)}.code`;
}

function codeBeside(path: string): Buffer | undefined {
  try {
    return readFileSync(codeFile(path));
  } catch {
    return undefined;
  }
}
