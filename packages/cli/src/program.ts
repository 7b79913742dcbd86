import { existsSync } from 'node:fs';
import { Argument, Command, CommanderError, Option } from '@commander-js/extra-typings';
import { EXIT, UserError } from './exit-code.js';
import { map, page, rate, redaction, share, vehicle } from './program-options.js';
import type { Terminal } from './terminal/output.js';
import { addTrack } from './track-program.js';

const EXAMPLES = {
  program: `
Examples:
  telltale assess drive.csv                     judge one drive
  telltale assess cold.csv pulls.csv.gz --vehicle car.yaml
  telltale columns drive.csv                    how each column was understood
  telltale rules engine.knock                   what a rule asks, and by which limits

Exit codes: 0 done, 1 verdict at or beyond --fail-at or coverage below --min-coverage,
2 wrong usage, 3 an input was unusable, 4 internal error, 130 interrupted.`,
  assess: `
Examples:
  telltale assess drive.csv
  telltale assess drive.csv --vehicle car.yaml --json > result.json
  telltale assess drive.csv --only engine.knock fuel.trim --fail-at repair
  telltale assess recordings/                   every log in a folder, as one car
  telltale assess drive.csv --sheet walk-round.yaml --prices prices.yaml
  telltale assess notime.csv --rate 10          a log without a time column, 10 rows a second`,
  columns: `
Examples:
  telltale columns drive.csv
  telltale columns drive.csv --map corrections.yaml`,
  export: `
Examples:
  telltale export drive.csv --out channels.csv
  telltale export drive.csv.gz --out channels.parquet --map corrections.yaml

Columns are named channel [unit] in the units of the catalogue; a cell without a sample is empty (null). An
existing file of the name given with --out is replaced, whole or not at all. Nothing else is written.`,
  plan: `
Examples:
  telltale plan --vehicle car.yaml              everything worth showing, in driving order
  telltale assess drive.csv --json > result.json; telltale plan result.json
                                                only what the drive left open
  telltale plan --sheet walk-round.yaml         what no recording shows, to fill in beside the car`,
  shortlist: `
Examples:
  telltale shortlist first-car/ second-car/ third-car/
  telltale shortlist cars/* --prices prices.yaml --markdown

One folder a candidate: its recordings, stored values and codes, and its own profile, sheet and map (YAML or JSON,
known by the schema that they name).`,
  verify: `
Examples:
  telltale verify --after pulls.csv
  telltale verify --after new-map.csv --before old-map.csv --vehicle car.yaml
  telltale verify --after b1.csv b2.csv --before a1.csv a2.csv --limits own.yaml --targets map.yaml

Pulls are found by themselves. Ten of them in one gear on each side, the maps alternating on one day, tell most.
Full load only on a closed course or a dynamometer, and within the law.`,
  completion: `
Examples:
  source <(telltale completion bash)            for this shell; put the line into ~/.bashrc to keep it
  telltale completion zsh > _telltale           into a folder of your fpath
  telltale completion fish > ~/.config/fish/completions/telltale.fish
  telltale completion powershell | Out-String | Invoke-Expression`,
  page: `
Examples:
  telltale page telltale.html                   then open it, on a phone too, and drop logs in

The file needs no installation and no network; what is dropped into it stays on the device.`,
  rules: `
Examples:
  telltale rules
  telltale rules transmission.over-temperature`,
};

/** Runs one command line. @param argv arguments without node and script. @returns the exit code; throws UserError. */
export async function run(argv: readonly string[], terminal: Terminal, version: string): Promise<number> {
  let code: number = EXIT.done;
  const program = new Command('telltale')
    .description(
      'Turns the CSV logs of engine and transmission control units into a judged answer:\nwhat is healthy, worn, faulty, and what was not proven.',
    )
    .version(version, '-V, --version', 'print the version')
    .helpOption('-h, --help', 'show this help')
    .helpCommand('help [command]', 'show the help of a command')
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .addHelpText('after', EXAMPLES.program);

  const plainIf = (flags: { color?: boolean | undefined }): Terminal => {
    const off = flags.color === false || program.opts().color === false;
    return off ? { ...terminal, color: false } : terminal;
  };
  /** With --redact neither warnings nor errors name what was given. */
  const guarded = async (
    flags: { redact?: boolean | undefined; color?: boolean | undefined },
    given: readonly (string | boolean | undefined)[],
    command: (terminal: Terminal) => Promise<number>,
  ): Promise<number> => {
    if (flags.redact !== true) return command(plainIf(flags));
    const { privately } = await import('./commands/index.js');
    return privately(given, plainIf(flags), command);
  };

  program
    .command('assess')
    .description('read the recordings of one car and print the health verdict')
    .argument('[files...]', 'recordings (CSV, also gzip), or folders of them')
    .addOption(vehicle())
    .addOption(map())
    .addOption(rate())
    .option('--only <rules...>', 'run these rules (or systems) only')
    .option('--json', 'print one JSON document (schema telltale/assessment@1)')
    .option('--markdown', 'print markdown')
    .addOption(page())
    .addOption(new Option('--plots', 'small plots of the evidence in the text, also when no terminal shows it'))
    .addOption(new Option('--no-plots', 'no small plots (they are drawn where a UTF-8 terminal shows them)'))
    .addOption(redaction())
    .option('--sheet <file>', 'filled-in walk-round sheet (YAML or CSV); telltale plan --sheet writes an empty one')
    .option('--prices <file>', 'your own price list (YAML or CSV): what the findings justify')
    .addOption(
      new Option('--fail-at <level>', 'exit 1 when the verdict is at or beyond this level').choices([
        'watch',
        'repair',
        'stop',
      ] as const),
    )
    .addOption(
      new Option('--min-coverage <share>', 'exit 1 when less than this share was shown, e.g. 0.6').argParser(share),
    )
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .addHelpText('after', EXAMPLES.assess)
    .action(async (files, flags) => {
      const { assessCommand } = await import('./commands/index.js');
      const { vehicle, map, sheet, prices, html } = flags;
      const given = [...files, ...(flags.only ?? []), vehicle, map, sheet, prices, html];
      code = await guarded(flags, given, (own) => assessCommand(files, flags, own));
    });

  program
    .command('columns')
    .description('how each column was understood: channel, unit, rate, doubts, and how to correct it')
    .argument('<file>', 'a recording')
    .addOption(vehicle())
    .addOption(map())
    .addOption(rate())
    .option('--json', 'print one JSON document (schema telltale/columns@1)')
    .option('--markdown', 'print markdown')
    .addOption(redaction())
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .addHelpText('after', EXAMPLES.columns)
    .action(async (file, flags) => {
      const { columnsCommand } = await import('./commands/index.js');
      code = await guarded(flags, [file, flags.vehicle, flags.map], (own) => columnsCommand(file, flags, own));
    });

  program
    .command('export')
    .description('the normalised channels as CSV or Parquet, by the extension of --out')
    .argument('<file>', 'a recording')
    .requiredOption('--out <file>', 'file to write, .csv or .parquet; replaced when it exists')
    .addOption(vehicle())
    .addOption(map())
    .addOption(rate())
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .addHelpText('after', EXAMPLES.export)
    .action(async (file, flags) => {
      const { exportCommand } = await import('./commands/index.js');
      code = await exportCommand(file, flags, plainIf(flags));
    });

  program
    .command('plan')
    .description('what to record, read out and drive, with cautions; given an assessment, only what is unproven')
    .argument('[assessment]', 'what telltale assess --json wrote')
    .addOption(vehicle())
    .option('--sheet [file]', 'write the empty walk-round sheet instead, to the file or to standard output')
    .option('--json', 'print one JSON document (schema telltale/plan@1)')
    .option('--markdown', 'print markdown')
    .addOption(page())
    .addOption(redaction())
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .addHelpText('after', EXAMPLES.plan)
    .action(async (assessment, flags) => {
      const { planCommand } = await import('./commands/index.js');
      const given = [assessment, flags.vehicle, flags.sheet, flags.html];
      code = await guarded(flags, given, (own) => planCommand(assessment, flags, own));
    });

  program
    .command('shortlist')
    .description('several candidates (one folder each) side by side, best first')
    .argument('<paths...>', 'folders of recordings, or single recordings')
    .option('--prices <file>', 'your own price list for all of them (YAML or CSV)')
    .option('--json', 'print one JSON document (schema telltale/shortlist@1)')
    .option('--markdown', 'print markdown')
    .addOption(page())
    .addOption(redaction())
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .addHelpText('after', EXAMPLES.shortlist)
    .action(async (paths, flags) => {
      const { shortlistCommand } = await import('./commands/index.js');
      const given = [...paths, flags.prices, flags.html];
      code = await guarded(flags, given, (own) => shortlistCommand(paths, flags, own));
    });

  program
    .command('verify')
    .description('map sign-off: limits held or broken in the pulls after a change, and what differs from before')
    .option('--after <files...>', 'recordings of the map that is signed off, or folders of them')
    .option('--before <files...>', 'recordings of the map before it')
    .addOption(vehicle())
    .option('--targets <file>', 'what the map is meant to do, where it is not recorded (YAML or CSV)')
    .option('--limits <file>', 'your own limits, and what is compared first (YAML or CSV)')
    .option('--tables <folder>', 'write the tables over engine speed and load as CSV besides, one file each')
    .addOption(map())
    .addOption(rate())
    .option('--json', 'print one JSON document (schema telltale/verification@1)')
    .option('--markdown', 'print markdown')
    .addOption(page())
    .addOption(redaction())
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .addHelpText('after', EXAMPLES.verify)
    .action(async (flags) => {
      const { verifyCommand } = await import('./commands/index.js');
      code = await verifyCommand(flags, plainIf(flags));
    });

  const tracked = addTrack(
    program as unknown as Command,
    (finished) => {
      code = finished;
    },
    plainIf,
  );

  program
    .command('page')
    .description('write one HTML file that is the whole analyser: open it in a browser and drop logs in')
    .argument('<file>', 'file to write; replaced when it exists')
    .option('--quiet', 'say nothing')
    .addHelpText('after', EXAMPLES.page)
    .action(async (file, flags) => {
      const { pageCommand } = await import('./commands/index.js');
      code = await pageCommand(file, flags, terminal, version);
    });

  program
    .command('rules')
    .description('list the rules, or explain one')
    .argument('[rule]', 'a rule or a system, e.g. engine.knock')
    .option('--json', 'print one JSON document (schema telltale/rules@1)')
    .option('--markdown', 'print markdown')
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .addHelpText('after', EXAMPLES.rules)
    .action(async (rule, flags) => {
      const { rulesCommand } = await import('./commands/index.js');
      code = rulesCommand(rule, flags, plainIf(flags));
    });

  program
    .command('completion')
    .description('print the completion script of a shell')
    .addArgument(new Argument('<shell>', 'the shell').choices(['bash', 'zsh', 'fish', 'powershell'] as const))
    .addHelpText('after', EXAMPLES.completion)
    .action(async (shell) => {
      const { completionCommand } = await import('./commands/index.js');
      code = completionCommand(shell, program as unknown as Command, terminal);
    });

  for (const command of [program, ...program.commands, ...tracked] as Command[]) {
    command
      .exitOverride()
      .showSuggestionAfterError(true)
      .configureOutput({
        writeOut: terminal.out,
        writeErr: () => undefined,
        getOutHelpWidth: () => Math.max(40, Math.min(terminal.width, 100)),
        outputError: () => undefined,
      });
  }

  if (argv.length === 0) {
    terminal.out(program.helpInformation() + EXAMPLES.program.concat('\n'));
    return EXIT.usage;
  }
  try {
    await program.parseAsync(
      withCommand(
        argv,
        program.commands.map((each) => each.name()),
      ),
      { from: 'user' },
    );
  } catch (error) {
    if (!(error instanceof CommanderError)) throw error;
    if (error.exitCode === 0) return EXIT.done;
    throw new UserError('usage', commanderText(error));
  }
  return code;
}

/** A file where a command belongs is there to be assessed. */
function withCommand(argv: readonly string[], commands: readonly string[]): string[] {
  const [first = ''] = argv;
  const isFile =
    !commands.includes(first) &&
    first !== 'help' &&
    (existsSync(first) || /[/\\]|\.(csv|txt|tsv|gz|log)$/i.test(first));
  return first.startsWith('-') || !isFile ? [...argv] : ['assess', ...argv];
}

/** Commander's message in one line, with where to look. */
function commanderText(error: CommanderError): string {
  const text = error.message
    .replace(/^error: /, '')
    .replace(/\s+/g, ' ')
    .trim()
    .replace(/[.]$/, '');
  return `${text}; see telltale --help`;
}
