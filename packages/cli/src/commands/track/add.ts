import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import { explainColumns, type LogbookEntry, type Vehicle } from '@telltale/core';
import type { Book, StoredDrive } from '../../book/book.js';
import { hashOf, hashOfAll } from '../../book/hash.js';
import { withoutIdentification } from '../../book/identity.js';
import { EXIT, UserError } from '../../exit-code.js';
import { expandFolders, openInput, userPath } from '../../files.js';
import { loadMap, loadVehicle } from '../../side-files.js';
import { oneLine, type Terminal } from '../../terminal/output.js';
import { Progress } from '../../terminal/progress.js';
import { VERSION } from '../../version.js';
import type { DriveJob } from './assess-drive.js';
import { labelOf } from './car.js';
import { Crew } from './crew.js';
import { opened } from './opened.js';
import { keepReport } from './report-of.js';

export interface AddFlags {
  readonly book?: string | undefined;
  readonly car?: string | undefined;
  readonly vehicle?: string | undefined;
  readonly map?: string | undefined;
  readonly rate?: number | undefined;
  readonly date?: string | undefined;
  readonly distance?: number | undefined;
  readonly together?: boolean | undefined;
  readonly keepIdentification?: boolean | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** What `track add` did; schema telltale/added@1. */
interface Added {
  readonly schema: 'telltale/added@1';
  readonly added: { readonly hash: string; readonly car: string; readonly recordedAt: string; readonly file: string }[];
  readonly known: { readonly hash: string; readonly car: string; readonly file: string }[];
  readonly unusable: { readonly file: string; readonly code: string; readonly message: string }[];
}

/** Drives that are written in one transaction, and milliseconds after which fewer are. */
const BATCH = 20;
const PACE = 1000;

/** `telltale track add FILE...`: assesses drives and keeps what they showed. @returns the exit code. */
export async function addCommand(given: readonly string[], flags: AddFlags, terminal: Terminal): Promise<number> {
  if (given.length === 0)
    throw new UserError('usage', 'found no file, expected at least one: telltale track add FILE...');
  const vehicle = await loadVehicle(flags.vehicle);
  const map = await loadMap(flags.map);
  const paths = await expandFolders(given);
  const { interruption } = terminal;
  const book = await opened(flags, 'create', terminal);
  const done: Added = { schema: 'telltale/added@1', added: [], known: [], unusable: [] };
  let dated = 0;
  try {
    const car = await carFor(flags, vehicle, book);
    const profile = vehicle ?? (await profileOf(book, car));
    const drives = await drivesOf(paths, flags, terminal);
    interruption?.keep();
    const progress = new Progress(terminal, flags.quiet ?? false, 0);
    const secret = await book.secret();
    const clean = (text: string) => (flags.keepIdentification ? text : withoutIdentification(text, secret));
    const keeper = new Keeper(book, done);
    const missing = (path: string, code: string, message: string): void => {
      done.unusable.push({ file: basename(path), code, message });
      if (!flags.quiet) terminal.err(`telltale: ${code}: ${oneLine(`${path}: ${message}`)}\n`);
    };
    let next = 0;
    const job = async (): Promise<DriveJob | undefined> => {
      while (next < drives.length && interruption?.requested !== true) {
        const own = drives[next]!;
        progress.begin(next, drives.length, basename(own[0]!));
        next++;
        const ready = await prepared(own, missing);
        if (ready === undefined) continue;
        const before = (await book.known([ready.hash])).get(ready.hash) ?? keeper.waiting(ready.hash);
        if (before === undefined)
          return {
            ...ready,
            car,
            vehicle: profile === undefined ? undefined : { ...profile, id: car },
            map,
            rate: flags.rate,
            date: flags.date,
            distance: flags.distance,
          };
        done.known.push({ hash: ready.hash, car: before, file: basename(own[0]!) });
        if (before !== car && !flags.quiet)
          terminal.err(
            `telltale: known-car: ${oneLine(`${own[0]}: is in the book as a drive of ${before}`)}; not added again\n`,
          );
      }
      return undefined;
    };
    await new Crew(drives.length).run(job, async ({ paths: own }, answer) => {
      for (const each of answer.unusable) missing(each.path, each.code, each.message);
      if (!answer.ok) return;
      if (answer.datedByFile) dated++;
      await keeper.keep(stored(answer.entry, clean(basename(own[0]!))));
    });
    await keeper.flush();
    progress.begin(drives.length, drives.length, '');
    if (vehicle !== undefined && done.added.length > 0)
      await book.setProfile(car, JSON.stringify({ ...vehicle, id: car }));
    if (done.added.length > 0 && interruption?.requested !== true) await keepReport(book, car);
  } finally {
    await book.close();
  }
  if (dated > 0 && !flags.quiet)
    terminal.err(
      `telltale: file-date: ${dated === 1 ? 'one drive holds' : `${dated} drives hold`} no date, so the time of the file was taken; --date gives another\n`,
    );
  terminal.out(flags.json ? `${JSON.stringify(done, null, 2)}\n` : `${words(done)}\n`);
  if (interruption?.requested) return EXIT.interrupted;
  return done.unusable.length > 0 ? EXIT.input : EXIT.done;
}

/** Writes drives in small transactions: what was told as added is safe, and a thousand drives are no thousand commits. */
class Keeper {
  private batch: StoredDrive[] = [];
  private since = performance.now();

  constructor(
    private readonly book: Book,
    private readonly done: Added,
  ) {}

  /** Car of a drive that waits to be written. */
  waiting(hash: string): string | undefined {
    return this.batch.find((each) => each.hash === hash)?.car;
  }

  async keep(drive: StoredDrive): Promise<void> {
    this.batch.push(drive);
    if (this.batch.length >= BATCH || performance.now() - this.since > PACE) await this.flush();
  }

  async flush(): Promise<void> {
    const { batch } = this;
    if (batch.length === 0) return;
    this.batch = [];
    this.since = performance.now();
    const fresh = new Set(await this.book.add(batch));
    for (const { hash, car, recordedAt, provenance } of batch) {
      const { file } = provenance;
      if (fresh.has(hash)) this.done.added.push({ hash, car, recordedAt, file });
      else this.done.known.push({ hash, car, file });
    }
  }
}

function stored(entry: LogbookEntry, file: string): StoredDrive {
  return { ...entry, provenance: { file, version: VERSION, addedAt: new Date().toISOString().slice(0, 19) } };
}

async function carFor(flags: AddFlags, vehicle: Vehicle | undefined, book: Book): Promise<string> {
  const keep = flags.keepIdentification ?? false;
  if (flags.car !== undefined) return labelOf(flags.car, book, keep);
  if (vehicle !== undefined) return labelOf(vehicle.id, book, keep);
  const cars = await book.cars();
  const [only] = cars;
  if (cars.length === 1 && only !== undefined) return only.car;
  throw new UserError(
    'which-car',
    `found neither --car nor --vehicle, expected the label of the car, e.g. --car saloon${cars.length === 0 ? '' : `; the book holds ${cars.length} cars`}`,
  );
}

async function profileOf(book: Book, car: string): Promise<Vehicle | undefined> {
  const json = await book.profile(car);
  return json === undefined ? undefined : (JSON.parse(json) as Vehicle);
}

/** Bytes up to which a file may be a read-out, and files that are looked at for it. */
const SMALL = 512e3;
const FEW = 12;

/** Files by drive: one each, all one with --together, and read-outs given with a single recording belong to it. */
async function drivesOf(paths: readonly string[], flags: AddFlags, terminal: Terminal): Promise<string[][]> {
  if (flags.together || paths.length === 1) return [[...paths]];
  const apart = paths.map((path) => [path]);
  if (paths.length > FEW) return apart;
  const readOuts: string[] = [];
  for (const path of paths) {
    const size = await stat(userPath(path)).then(
      (entry) => entry.size,
      () => Number.POSITIVE_INFINITY,
    );
    if (size > SMALL) continue;
    const { input } = await explainColumns(await openInput(path));
    if (input.kind === 'stored-values' || input.kind === 'code-list') readOuts.push(path);
  }
  const recordings = paths.filter((path) => !readOuts.includes(path));
  if (recordings.length === 1) return [[...recordings, ...readOuts]];
  if (readOuts.length > 0 && recordings.length > 1 && !flags.quiet)
    terminal.err(
      'telltale: read-outs-apart: read-outs were given with several recordings and are kept as drives of their own; --together makes all files one drive\n',
    );
  return apart;
}

/** Hash and time of the files of one drive; undefined when one cannot be read. */
async function prepared(
  paths: readonly string[],
  missing: (path: string, code: string, message: string) => void,
): Promise<Pick<DriveJob, 'paths' | 'hash' | 'fileTime'> | undefined> {
  const hashes: string[] = [];
  const readable: string[] = [];
  let time = Number.POSITIVE_INFINITY;
  for (const path of paths) {
    try {
      const at = userPath(path);
      time = Math.min(time, (await stat(at)).mtimeMs);
      hashes.push(await hashOf(at));
      readable.push(path);
    } catch {
      // Said in the words of every other command.
      const { fault } = await openInput(path);
      missing(path, fault?.code ?? 'unreadable', fault?.message ?? 'could not be read');
    }
  }
  if (readable.length === 0) return undefined;
  return { paths: readable, hash: hashOfAll(hashes), fileTime: new Date(time).toISOString().slice(0, 19) };
}

function words({ added, known, unusable }: Added): string {
  const drives = (count: number): string => (count === 1 ? 'one drive' : `${count} drives`);
  const parts = [
    `${drives(added.length)} added`,
    ...(known.length === 0 ? [] : [`${known.length} already in the book`]),
    ...(unusable.length === 0 ? [] : [`${unusable.length} unusable`]),
  ];
  return parts.join(', ');
}
