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
const TEXTS = /^<(?:hz|share|label|date|km|hash)>$/;

/** Everything that can be completed, read from the program itself. @param words of options and arguments by their name */
export function wordsOf(program: Command, words: Readonly<Record<string, readonly string[]>>): CommandWords[] {
  const help = program.createHelp();
  return help
    .visibleCommands(program as never)
    .filter((command) => command.name() !== 'help')
    .map((command) => ({
      name: command.name(),
      about: command.description(),
      options: own(command, help).flatMap((option): OptionWords[] => {
        if (option.long === undefined || option.long === null) return [];
        const placeholder = /[<[].*$/.exec(option.flags)?.[0] ?? '';
        const given = option.argChoices ?? words[option.long];
        const takes = placeholder === '' ? 'none' : (given ?? (TEXTS.test(placeholder) ? 'text' : 'file'));
        return [{ flag: option.long, about: option.description, takes }];
      }),
      takes:
        command.commands.length > 0
          ? command.commands.map((each) => each.name())
          : (command.registeredArguments[0]?.argChoices ?? words[command.name()] ?? 'file'),
    }));
}

/** Options of a command; of one with commands of its own all of theirs, each once. */
function own<C extends { readonly commands: readonly C[] }, O extends { readonly long?: string | null | undefined }>(
  command: C,
  help: { visibleOptions(command: C): O[] },
): O[] {
  const found = new Map<string, O>();
  for (const each of [command, ...command.commands])
    for (const option of help.visibleOptions(each))
      if (option.long !== undefined && option.long !== null && !found.has(option.long)) found.set(option.long, option);
  return [...found.values()];
}
