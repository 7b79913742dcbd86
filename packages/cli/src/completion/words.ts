import type { Command } from '@commander-js/extra-typings';

/** One option of a command. */
export interface OptionWords {
  /** `--fail-at` */
  readonly flag: string;
  readonly about: string;
  /** `none` = a switch, `file`, or the words that it takes. */
  readonly takes: 'none' | 'file' | 'text' | readonly string[];
}

export interface CommandWords {
  readonly name: string;
  readonly about: string;
  readonly options: readonly OptionWords[];
  /** What stands without a flag: files, or these words. */
  readonly takes: 'file' | readonly string[];
}

/** Values whose placeholder is none of these are no files. */
const TEXTS = /^<(?:hz|share)>$/;

/** Everything that can be completed, read from the program itself. @param words of options and arguments by their name */
export function wordsOf(program: Command, words: Readonly<Record<string, readonly string[]>>): CommandWords[] {
  const help = program.createHelp();
  return help
    .visibleCommands(program as never)
    .filter((command) => command.name() !== 'help')
    .map((command) => ({
      name: command.name(),
      about: command.description(),
      options: help.visibleOptions(command).flatMap((option): OptionWords[] => {
        if (option.long === undefined || option.long === null) return [];
        const placeholder = /[<[].*$/.exec(option.flags)?.[0] ?? '';
        const own = option.argChoices ?? words[option.long];
        const takes = placeholder === '' ? 'none' : (own ?? (TEXTS.test(placeholder) ? 'text' : 'file'));
        return [{ flag: option.long, about: option.description, takes }];
      }),
      takes: command.registeredArguments[0]?.argChoices ?? words[command.name()] ?? 'file',
    }));
}
