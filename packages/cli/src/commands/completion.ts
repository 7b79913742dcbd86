import type { Command } from '@commander-js/extra-typings';
import { RULES } from '@telltale/core';
import { completionScript, type Shell } from '../completion/scripts.js';
import { wordsOf } from '../completion/words.js';
import { EXIT } from '../exit-code.js';
import type { Terminal } from '../terminal/output.js';

/** `telltale completion SHELL`: prints the script. @returns the exit code. */
export function completionCommand(shell: Shell, program: Command, terminal: Terminal): number {
  const rules = [...new Set(RULES.map(({ system }) => system)), ...RULES.map(({ id }) => id)];
  terminal.out(completionScript(shell, wordsOf(program, { '--only': rules, rules })));
  return EXIT.done;
}
