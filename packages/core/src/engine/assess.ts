import { decide } from '../decision/decision.js';
import type { Prices } from '../decision/prices.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { TRIP } from '../derived/trip.js';
import { type ByteSource, type Hasher, type RegionHelper, readTable } from '../ingest/index.js';
import { buildRecording } from '../recording/build.js';
import { buildReadOut } from '../recording/build-read-out.js';
import { neededColumns } from '../recording/needed-columns.js';
import type { ColumnMap } from '../recording/raw.js';
import type { RawReadOut } from '../recording/raw-read-out.js';
import type { Channel, Recording } from '../recording/recording.js';
import { RULES } from '../rules/index.js';
import type { Rule } from '../rules/rule.js';
import type { Seen } from '../sheet/point.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../vehicle/vehicle.js';
import { chainsOf } from '../verdict/chains.js';
import { systemVerdicts, verdictOf } from '../verdict/verdict.js';
import type { Assessment, ChannelReport, ColumnsReport, InputReport } from './assessment.js';
import { ABORT_CAUTIONS, GENERAL_CAUTIONS } from './cautions.js';
import { openDrive } from './drive.js';
import { DUPLICATE_CODE, SeenRecordings } from './duplicate.js';
import { judge, observe, openNotebooks } from './judge.js';
import { type ObservationHelper, observeWith } from './shared-observation.js';

/** One input of a call: its base name for the report and its bytes. */
export interface InputFile {
  /** Base name; paths never reach a result. */
  readonly name: string;
  readonly source: ByteSource;
  /** Size in bytes, when known: saves growing the columns. */
  readonly size?: number;
  /** A faster SHA-256 than the built-in one, for this input alone. */
  readonly hasher?: Hasher;
  /** A second thread that helps to read this input, when it is large. */
  readonly helper?: RegionHelper;
  /** A second thread that helps the rules to look at it; closed when they are done. */
  readonly observer?: ObservationHelper;
  /** Given when the bytes could not be had at all: reported as unusable with this code and message. */
  readonly fault?: { readonly code: string; readonly message: string };
}

export interface ReadOptions {
  /** Corrections of the reading. */
  readonly map?: ColumnMap;
  /** Rows per second (Hz) of a recording without a time column. */
  readonly rate?: number;
  readonly vehicle?: Vehicle;
}

export interface AssessOptions extends ReadOptions {
  /** Ids of the rules to run; all when absent. Unknown ids throw a RangeError. */
  readonly only?: readonly string[];
  /** Filled-in points of a walk-round sheet: told apart from the results, and part of the decision. */
  readonly sheet?: readonly Seen[];
  /** The user's own price list: what the findings justify is summed up. */
  readonly prices?: Prices;
  /** Called before each input is read and when all are done; for progress on a terminal. */
  readonly onProgress?: (done: number, total: number, name: string) => void;
  /**
   * Called with each recording when the rules have looked at it, for plots. Who keeps a drive keeps its memory: without
   * this, recordings are let go one after the other.
   */
  readonly onDrive?: (drive: Drive) => void;
  /**
   * Asked before each input, and when reading one fails: true = stop here. What was read is judged; each input that was
   * not is reported as unusable with the code `interrupted`.
   */
  readonly interrupted?: () => boolean;
}

interface Loaded {
  readonly report: InputReport;
  readonly recording?: Recording;
}

/**
 * Reads the inputs of one car one after the other, lets every rule look at each, and judges what all of them showed.
 * Never throws for bad data: an unusable input carries its error, the others are still assessed.
 * @throws RangeError when `only` names a rule that does not exist.
 */
export async function assess(files: readonly InputFile[], options: AssessOptions = {}): Promise<Assessment> {
  const vehicle = options.vehicle ?? UNKNOWN_VEHICLE;
  const rules = chosen(options.only);
  const notebooks = openNotebooks(rules);
  const seen = new SeenRecordings();
  const inputs: InputReport[] = [];
  for (const [index, file] of files.entries()) {
    if (options.interrupted?.() === true) {
      inputs.push(notRead(file.name));
      continue;
    }
    options.onProgress?.(index, files.length, file.name);
    const { report, recording } = await loadUnless(file, options);
    if (recording === undefined) {
      inputs.push(report);
      continue;
    }
    // A fingerprint reads every sample: not for one file alone.
    const before = files.length > 1 ? seen.sameAs(recording, file.name, report.sha256) : undefined;
    if (before !== undefined) {
      const message = `the same recording as ${before}: not counted again`;
      inputs.push({ ...report, problems: [...report.problems, { code: DUPLICATE_CODE, message }] });
      continue;
    }
    const drive = openDrive(recording, vehicle, index);
    const trip = drive.derive(TRIP);
    inputs.push(isRefusal(trip) ? report : { ...report, distance: { value: trip.distance, unit: 'km' } });
    if (file.observer === undefined) observe(notebooks, drive);
    else await observeWith(file.observer, notebooks, drive);
    file.observer?.close();
    options.onDrive?.(drive);
  }
  for (const { observer } of files) observer?.close();
  options.onProgress?.(files.length, files.length, '');
  const results = judge(notebooks, vehicle);
  const chains = chainsOf(results);
  const partial = rules.length < RULES.length;
  const verdict = verdictOf(results, rules, partial);
  const looked = (options.sheet ?? []).filter(({ state }) => state !== 'not-seen');
  return {
    schema: 'telltale/assessment@1',
    vehicle: { id: vehicle.id },
    inputs: inputs.map(ordered),
    verdict,
    systems: systemVerdicts(results, rules),
    results,
    ...(chains.length === 0 ? {} : { chains }),
    ...(options.sheet === undefined ? {} : { seen: looked }),
    decision: decide({
      verdict,
      results,
      seen: looked,
      partial,
      ...(options.prices === undefined ? {} : { prices: options.prices }),
    }),
    cautions: [...GENERAL_CAUTIONS, ...ABORT_CAUTIONS],
  };
}

async function loadUnless(file: InputFile, options: AssessOptions): Promise<Loaded> {
  try {
    return await load(file, options, false);
  } catch (error) {
    if (options.interrupted?.() === true) return { report: notRead(file.name) };
    throw error;
  }
}

function notRead(name: string): InputReport {
  return unusable(name, '', {
    code: 'interrupted',
    message: `${name}: not read, because the run was interrupted; what was read before it is judged`,
  });
}

/** How each column of one input was understood, with the doubts and how to mend them. */
export async function explainColumns(file: InputFile, options: ReadOptions = {}): Promise<ColumnsReport> {
  const { report, recording } = await load(file, options);
  return { schema: 'telltale/columns@1', input: ordered(report), columns: recording?.columns ?? [] };
}

/**
 * Bytes to recording, or the reason why not; everything the report says of the input.
 * @param all false = columns that cannot become a channel are passed over
 */
export async function load(file: InputFile, options: ReadOptions = {}, all = true): Promise<Loaded> {
  if (file.fault !== undefined) return { report: unusable(file.name, '', file.fault) };
  const read = await readTable(file.source, {
    name: file.name,
    ...(file.size === undefined ? {} : { size: file.size }),
    ...(file.hasher === undefined ? {} : { hasher: file.hasher }),
    ...(file.helper === undefined ? {} : { helper: file.helper }),
    ...(options.map === undefined ? {} : { map: options.map }),
    ...(options.rate === undefined ? {} : { rate: options.rate }),
    ...(all ? {} : { needed: (columns) => neededColumns(columns, options.map) }),
  });
  if (!read.ok) {
    if (read.readOut !== undefined) return loadReadOut(file.name, read.sha256, read.readOut);
    const report = unusable(file.name, read.sha256, read.fault);
    return { report: read.kind === 'recording' ? report : { ...report, kind: read.kind } };
  }
  const built = buildRecording(read.table, {
    ...(options.map === undefined ? {} : { map: options.map }),
  });
  if (!built.ok) return { report: unusable(file.name, read.sha256, built.fault) };
  const { recording } = built;
  return {
    recording,
    report: {
      file: file.name,
      sha256: read.sha256,
      kind: 'recording',
      rows: recording.rows,
      duration: { value: recording.duration, unit: 's' },
      dialect: recording.dialect,
      channels: [...recording.channels.values()].map((channel) => channelReport(channel, recording.duration)),
      unrecognised: recording.unrecognised,
      problems: recording.problems,
    },
  };
}

/** Stored values or a code list: a recording of one row, or unusable when nothing of it is understood. */
function loadReadOut(file: string, sha256: string, raw: RawReadOut): Loaded {
  const recording = buildReadOut(raw);
  const { channels, unrecognised, problems, rows, readOut } = recording;
  const report: InputReport = {
    file,
    sha256,
    kind: raw.kind,
    rows,
    channels: [...channels.values()].map((channel) => channelReport(channel, 0)),
    unrecognised,
    problems,
  };
  const nothing = problems.find(({ code }) => code === 'no-code-read');
  if (nothing !== undefined) return { report: { ...report, error: nothing } };
  const { readiness, monitorResults, odometers, calibrations, codes } = readOut!;
  const held = channels.size + monitorResults.length + odometers.length + calibrations.length;
  if (held > 0 || readiness !== undefined || codes !== undefined) return { report, recording };
  const message =
    'not one stored value was recognised, expected names such as Launch count or Odometer: check the export';
  return { report: { ...report, error: { code: 'no-channel', message } } };
}

function unusable(file: string, sha256: string, error: InputReport['error'] & object): InputReport {
  return { file, sha256, kind: 'unusable', channels: [], unrecognised: [], problems: [], error };
}

/** Rate: of the channel's own changes, else of its group, else (nothing moves) of its samples. */
function channelReport(channel: Channel, duration: number): ChannelReport {
  const { quality } = channel;
  const rate = [quality.rate, quality.groupRate, quality.samples / duration].find(Number.isFinite) ?? Number.NaN;
  const { low, high } = quality.range ?? rangeOf(channel.values);
  return {
    id: channel.id,
    source: channel.source,
    sourceUnit: channel.sourceUnit,
    unit: channel.unit,
    rate: Number.isFinite(rate) ? { value: rate, unit: 'Hz' } : null,
    certainty: channel.certainty,
    ...(channel.place === undefined ? {} : { place: channel.place }),
    samples: quality.samples,
    range: low <= high ? { low, high } : null,
  };
}

/** Infinite the wrong way round where there is no sample. */
function rangeOf(values: Float64Array): { readonly low: number; readonly high: number } {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return { low, high };
}

/** Field order of the contract. */
function ordered(report: InputReport): InputReport {
  const { file, sha256, kind, rows, duration, distance, dialect, channels, unrecognised, problems, error } = report;
  return {
    file,
    sha256,
    kind,
    ...(rows === undefined ? {} : { rows }),
    ...(duration === undefined ? {} : { duration }),
    ...(distance === undefined ? {} : { distance }),
    ...(dialect === undefined ? {} : { dialect }),
    channels,
    unrecognised,
    problems,
    ...(error === undefined ? {} : { error }),
  };
}

function chosen(only: readonly string[] | undefined): readonly Rule[] {
  if (only === undefined || only.length === 0) return RULES;
  const unknown = only.filter((id) => !RULES.some((rule) => rule.id === id));
  if (unknown.length > 0) throw new RangeError(`no such rule: ${unknown.join(', ')}`);
  return RULES.filter((rule) => only.includes(rule.id));
}
