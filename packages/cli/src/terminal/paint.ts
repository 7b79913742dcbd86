import type { Paint } from '@telltale/core';
import { Chalk } from 'chalk';

/** Colours say nothing that the words do not say as well. */
export function paintFor(color: boolean): Paint {
  const chalk = new Chalk({ level: color ? 1 : 0 });
  const tones: Readonly<Record<string, (text: string) => string>> = {
    sound: chalk.green,
    clear: chalk.green,
    watch: chalk.yellow,
    repair: chalk.red,
    stop: chalk.redBright.inverse,
    unproven: chalk.cyan,
    quiet: chalk.dim,
  };
  return (text, tone, strong) => {
    const toned = tones[tone]?.(text) ?? text;
    return strong ? chalk.bold(toned) : toned;
  };
}
