import { Argument, type Command, InvalidArgumentError, Option } from '@commander-js/extra-typings';
import { map, page, rate, redaction, vehicle } from './program-options.js';
import type { Terminal } from './terminal/output.js';

/** Sets the exit code of a command that has run. */
type Finish = (code: number) => void;
type Plain = (flags: { color?: boolean | undefined }) => Terminal;

const EXAMPLES = `
Examples:
  telltale track add january.csv --vehicle car.yaml
  telltale track add logs/ --car saloon         a folder of drives; what is known already is passed over
  telltale track show                           what drifts, how fast, and when it meets a limit
  telltale track note oil --date 2026-03-01     an oil change: its measures start from a new baseline
  telltale track due                            what to do and to record next

The book is kept in your data folder, or where --book FILE (or TELLTALE_BOOK) says; a workshop's on a server:
--book postgres://user@host/database`;

/** `telltale track …`: the owner's logbook. */
export function addTrack(program: Command, finish: Finish, plainIf: Plain): Command[] {
  const track = program
    .command('track')
    .description('the logbook: months of drives of one car or many; what drifts, how fast, and what is due')
    .addHelpText('after', EXAMPLES);

  const add = track
    .command('add')
    .description('assess drives and keep what they showed; the same file twice is counted once')
    .argument('[files...]', 'recordings and read-outs, or folders of them; each recording is a drive')
    .addOption(bookOption())
    .option('--car <label>', 'your own label of the car; else the id of --vehicle, else the only car of the book')
    .addOption(vehicle())
    .addOption(map())
    .addOption(rate())
    .addOption(
      dateOption(
        'when it was recorded; else its own stamps, else the date in the name of the file, else the time of the file',
      ),
    )
    .addOption(distanceOption())
    .option('--together', 'all files are one drive')
    .option('--keep-identification', 'keep identification numbers in labels and file names as they are, not hashed')
    .option('--json', 'print one JSON document (schema telltale/added@1)')
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .action(async (files, flags) => {
      const { addCommand } = await import('./commands/index.js');
      finish(await addCommand(files, flags, plainIf(flags)));
    });

  /** What shows one car, or all of them. */
  const shows = (name: string, about: string) =>
    track
      .command(name)
      .description(about)
      .addOption(bookOption())
      .option('--car <label>', 'one car; else all of them when the book holds several')
      .option('--json', 'print one JSON document (schema telltale/logbook@1, or telltale/fleet@1)')
      .option('--markdown', 'print markdown')
      .addOption(page())
      .addOption(redaction())
      .option('--no-color', 'no colours (also: NO_COLOR)')
      .option('--quiet', 'no progress and no warnings');

  const show = shows('show', 'what drifts in one car, or the cars of the book, worst first').action(async (flags) => {
    const { showCommand } = await import('./commands/index.js');
    finish(await showCommand(flags, plainIf(flags)));
  });

  const report = shows(
    'report',
    'the monthly report: what changed since last time, what drifts, what is due; --html writes the page',
  )
    .addOption(dateOption('the day that counts as today'))
    .action(async (flags) => {
      const { reportCommand } = await import('./commands/index.js');
      finish(await reportCommand(flags, plainIf(flags)));
    });

  const note = track
    .command('note')
    .description('write down what was done to the car; what it changes starts from a new baseline')
    .addArgument(new Argument('<kind>', 'kind of work').choices(NOTE_KINDS))
    .argument('[text...]', 'in your own words')
    .addOption(bookOption())
    .addOption(carOption())
    .addOption(dateOption('when; else today'))
    .addOption(distanceOption())
    .option('--remove', 'take this note out of the book again')
    .option('--quiet', 'say nothing')
    .action(async (kind, text, flags) => {
      const { noteCommand } = await import('./commands/index.js');
      finish(await noteCommand(kind, text, flags, plainIf({})));
    });

  const due = track
    .command('due')
    .description('what is due: life of the transmission fluid that is used, and the next recording')
    .addOption(bookOption())
    .addOption(carOption())
    .addOption(dateOption('the day that counts as today'))
    .option('--json', 'print one JSON document (schema telltale/due@1)')
    .option('--no-color', 'no colours (also: NO_COLOR)')
    .option('--quiet', 'no progress and no warnings')
    .action(async (flags) => {
      const { dueCommand } = await import('./commands/index.js');
      finish(await dueCommand(flags, plainIf(flags)));
    });

  const forget = track
    .command('forget')
    .description('take a drive, or a car with all that is kept of it, out of the book')
    .addOption(bookOption())
    .addOption(carOption())
    .option('--drive <drive>', 'one drive: its date, the name of its file, or the first digits of its hash')
    .option('--all', 'the car with all its drives and notes')
    .option('--quiet', 'say nothing')
    .action(async (flags) => {
      const { forgetCommand } = await import('./commands/index.js');
      finish(await forgetCommand(flags, plainIf({})));
    });

  const backup = track
    .command('backup')
    .description('the book as it stands at one moment, checked, into one file')
    .argument('<file>', 'file to write; replaced when it exists')
    .addOption(bookOption())
    .option('--quiet', 'say nothing')
    .action(async (file, flags) => {
      const { backupCommand } = await import('./commands/index.js');
      finish(await backupCommand(file, flags, plainIf({})));
    });

  const restore = track
    .command('restore')
    .description('make a backup the book; a book that holds anything is never overwritten')
    .argument('<file>', 'what telltale track backup wrote')
    .addOption(bookOption())
    .option('--merge', 'add what the book lacks')
    .option('--replace', 'move the file of the book aside first')
    .option('--quiet', 'say nothing')
    .action(async (file, flags) => {
      const { restoreCommand } = await import('./commands/index.js');
      finish(await restoreCommand(file, flags, plainIf({})));
    });

  const exported = track
    .command('export')
    .description('the book as partitioned Parquet, which other engines read as it is')
    .requiredOption('--parquet <folder>', 'folder to write: new, empty, or an earlier export')
    .addOption(bookOption())
    .option('--quiet', 'say nothing')
    .action(async (flags) => {
      const { exportBookCommand } = await import('./commands/index.js');
      finish(await exportBookCommand(flags, plainIf({})));
    });

  return [track, add, show, report, note, due, forget, backup, restore, exported] as unknown as Command[];
}

/** Kinds of notes; core has the same list, and a test holds both together: it is not loaded only to show a help. */
export const NOTE_KINDS = [
  'service',
  'oil',
  'fluid',
  'coolant',
  'tyres',
  'battery',
  'software',
  'relearn',
  'repair',
  'other',
] as const;

function carOption() {
  return new Option('--car <label>', 'the car; not needed when the book holds one');
}

function bookOption() {
  return new Option('--book <place>', 'the book: a file, or postgres://… ; else TELLTALE_BOOK, else your data folder');
}

function dateOption(about: string) {
  return new Option('--date <date>', about).argParser(isoDate);
}

function distanceOption() {
  return new Option('--distance <km>', 'odometer in km').argParser(kilometres);
}

/** ISO 8601 date, or date and time, of a day that exists. */
function isoDate(text: string): string {
  const found = /^(\d{4})-(\d{2})-(\d{2})(?:T\d{2}:\d{2}(?::\d{2})?)?$/.exec(text);
  const day = found === null ? Number.NaN : Date.parse(text.length === 10 ? `${text}T00:00:00Z` : `${text}Z`);
  if (found === null || Number.isNaN(day) || new Date(day).getUTCDate() !== Number(found[3]))
    throw new InvalidArgumentError('Expected a date like 2026-03-01 or 2026-03-01T18:30.');
  return text;
}

function kilometres(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value) || value < 0 || value > 5_000_000)
    throw new InvalidArgumentError('Expected the odometer in km, e.g. 84200.');
  return value;
}
