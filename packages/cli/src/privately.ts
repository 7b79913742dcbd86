import { basename } from 'node:path';
import { redact } from '@telltale/core';
import { UserError } from './exit-code.js';
import type { Terminal } from './terminal/output.js';

/**
 * Runs a command whose warnings and errors hold nothing private either: the paths that were given stand as `(file)`, and
 * what `redact` takes out of a document is taken out of every line. No progress is drawn, because it names files.
 */
export async function privately(
  given: readonly (string | boolean | undefined)[],
  terminal: Terminal,
  command: (terminal: Terminal) => Promise<number>,
): Promise<number> {
  const hide = hiding(given);
  try {
    return await command({ ...terminal, err: (text) => terminal.err(hide(text)), live: false });
  } catch (error) {
    if (!(error instanceof UserError)) throw error;
    throw new UserError(error.code, error.message.split('\n').map(hide).join('\n'), error.exit);
  }
}

function hiding(given: readonly (string | boolean | undefined)[]): (text: string) => string {
  const names = given
    .flatMap((path) => (typeof path === 'string' ? [path, basename(path)] : []))
    .filter((name) => name.length > 1)
    .sort((a, b) => b.length - a.length);
  return (text) => redact(names.reduce((clean, name) => clean.replaceAll(name, '(file)'), text));
}
