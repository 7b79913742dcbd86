import type { CommandWords, OptionWords } from './words.js';

export type Shell = 'bash' | 'zsh' | 'fish' | 'powershell';

/** The script that a shell loads; it holds every word, so that completing starts nothing. */
export function completionScript(shell: Shell, commands: readonly CommandWords[]): string {
  return `${{ bash, zsh, fish, powershell }[shell](commands).join('\n')}\n`;
}

const NAMES = (commands: readonly CommandWords[]): string => commands.map(({ name }) => name).join(' ');
const isList = (takes: OptionWords['takes']): takes is readonly string[] => typeof takes !== 'string';

/** Where nothing fits, `-o default` offers file names. */
function bash(commands: readonly CommandWords[]): string[] {
  const values = commands.flatMap(({ name, options }) =>
    options.flatMap(({ flag, takes }) => (isList(takes) ? [`    ${name}:${flag}) words="${takes.join(' ')}" ;;`] : [])),
  );
  return [
    '# telltale: completion for bash; load it with: source <(telltale completion bash)',
    '_telltale() {',
    // biome-ignore lint/suspicious/noTemplateCurlyInString: the shell expands it
    '  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} command=${COMP_WORDS[1]} words=""',
    '  if [ "$COMP_CWORD" -eq 1 ]; then',
    `    COMPREPLY=($(compgen -W "${NAMES(commands)} help" -- "$cur"))`,
    '    return',
    '  fi',
    '  case "$command:$prev" in',
    ...values,
    '  esac',
    '  if [ -z "$words" ]; then case "$command" in',
    ...commands.flatMap(({ name, options, takes }) => {
      const flags = options.map(({ flag }) => flag).join(' ');
      const plain = isList(takes) ? takes.join(' ') : '';
      return [`    ${name}) case "$cur" in -*) words="${flags}" ;; *) words="${plain}" ;; esac ;;`];
    }),
    `    help) words="${NAMES(commands)}" ;;`,
    '  esac; fi',
    '  COMPREPLY=($(compgen -W "$words" -- "$cur"))',
    '}',
    'complete -o bashdefault -o default -F _telltale telltale',
  ];
}

function zsh(commands: readonly CommandWords[]): string[] {
  const text = (words: string): string => words.replace(/[[\]:'\\]/g, ' ').replace(/\s+/g, ' ');
  return [
    '#compdef telltale',
    '# telltale: completion for zsh; put this file into a folder of your fpath as _telltale',
    '_telltale() {',
    '  local -a commands',
    '  commands=(',
    ...commands.map(({ name, about }) => `    '${name}:${text(about)}'`),
    "    'help:show the help of a command'",
    '  )',
    '  if (( CURRENT == 2 )); then',
    "    _describe -t commands 'command' commands || _files",
    '    return',
    '  fi',
    '  case $words[2] in',
    ...commands.flatMap(({ name, options, takes }) => [
      `    ${name})`,
      '      _arguments -s \\',
      ...options.map(({ flag, about, takes: value }) => {
        const ending = isList(value)
          ? `:value:(${value.join(' ')})`
          : value === 'file'
            ? ':file:_files'
            : value === 'text'
              ? ':value:'
              : '';
        return `        '${flag}[${text(about)}]${ending}' \\`;
      }),
      `        '*:${isList(takes) ? `value:(${takes.join(' ')})` : 'file:_files'}'`,
      '      ;;',
    ]),
    "    help) _describe -t commands 'command' commands ;;",
    '  esac',
    '}',
    'if [ "$funcstack[1]" = "_telltale" ]; then _telltale "$@"; else compdef _telltale telltale; fi',
  ];
}

function fish(commands: readonly CommandWords[]): string[] {
  const quoted = (words: string): string => `'${words.replace(/\\/g, '\\\\').replace(/'/g, "\\'")}'`;
  return [
    '# telltale: completion for fish; save it as ~/.config/fish/completions/telltale.fish',
    ...commands.map(
      ({ name, about }) => `complete -c telltale -n __fish_use_subcommand -a ${name} -d ${quoted(about)}`,
    ),
    `complete -c telltale -n '__fish_seen_subcommand_from help' -f -a ${quoted(NAMES(commands))}`,
    ...commands.flatMap(({ name, options, takes }) => {
      const where = `complete -c telltale -n '__fish_seen_subcommand_from ${name}'`;
      return [
        ...(isList(takes) ? [`${where} -f -a ${quoted(takes.join(' '))}`] : []),
        ...options.map(({ flag, about, takes: value }) => {
          const ending = isList(value)
            ? ` -x -a ${quoted(value.join(' '))}`
            : value === 'file'
              ? ' -r -F'
              : value === 'text'
                ? ' -x'
                : '';
          return `${where} -l ${flag.slice(2)}${ending} -d ${quoted(about)}`;
        }),
      ];
    }),
  ];
}

/** Where the block returns nothing, PowerShell offers file names itself. */
function powershell(commands: readonly CommandWords[]): string[] {
  const list = (words: readonly string[]): string =>
    `@(${words.map((word) => `'${word.replace(/'/g, "''")}'`).join(', ')})`;
  return [
    '# telltale: completion for PowerShell; load it with: telltale completion powershell | Out-String | Invoke-Expression',
    'Register-ArgumentCompleter -Native -CommandName telltale -ScriptBlock {',
    '  param($word, $ast, $position)',
    '  $elements = @($ast.CommandElements | ForEach-Object { $_.ToString() })',
    '  $command = if ($elements.Count -gt 1) { $elements[1] } else { "" }',
    '  $last = if ($word -eq "") { $elements[-1] } else { $elements[-2] }',
    '  $typing = $elements.Count -lt 2 -or ($elements.Count -eq 2 -and $word -ne "")',
    `  $words = if ($typing) { ${list([...commands.map(({ name }) => name), 'help'])} } else {`,
    '    switch ("$command $last") {',
    ...commands.flatMap(({ name, options }) =>
      options.flatMap(({ flag, takes }) =>
        isList(takes) ? [`      '${name} ${flag}' { ${list(takes)}; break }`] : [],
      ),
    ),
    '      default { switch ($command) {',
    ...commands.map(({ name, options, takes }) => {
      const flags = list(options.map(({ flag }) => flag));
      return `        '${name}' { if ($word -like '-*') { ${flags} } else { ${isList(takes) ? list(takes) : '@()'} } }`;
    }),
    `        'help' { ${list(commands.map(({ name }) => name))} }`,
    '      } }',
    '    }',
    '  }',
    '  $words | Where-Object { $_ -like "$word*" } | ForEach-Object {',
    "    [System.Management.Automation.CompletionResult]::new($_, $_, 'ParameterValue', $_)",
    '  }',
    '}',
  ];
}
