import { type ByteSource, type Hasher, type ReadingHelper, readTable } from '../ingest/index.js';
import { buildRecording } from '../recording/build.js';
import { buildReadOut } from '../recording/build-read-out.js';
import { neededColumns } from '../recording/needed-columns.js';
import type { ColumnMap } from '../recording/raw.js';
import type { RawReadOut } from '../recording/raw-read-out.js';
import type { Channel, Recording } from '../recording/recording.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { ChannelReport, ColumnsReport, InputReport } from './assessment.js';
import type { ObservationHelper } from './shared-observation.js';

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
  readonly helper?: ReadingHelper;
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

export interface Loaded {
  readonly report: InputReport;
  readonly recording?: Recording;
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

/** An input of which nothing was understood. */
export function unusable(file: string, sha256: string, error: InputReport['error'] & object): InputReport {
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
export function ordered(report: InputReport): InputReport {
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
