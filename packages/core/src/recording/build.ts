import { assemble, noChannel, reports } from './assembly.js';
import { type Candidate, ProblemList, type Rejection } from './candidate.js';
import type { Catalogue } from './catalogue.js';
import { channelCatalogue } from './channel-catalogue.js';
import { coldEngineDoubt } from './cold-engine.js';
import { type ColumnOverride, matchOverrides } from './column-map.js';
import { readColumn } from './column-reading.js';
import { runScannerOf } from './compiled-runs.js';
import { houseUnits } from './house-unit.js';
import { tellLeaps } from './leaps.js';
import type { InputFault } from './problem.js';
import type { ColumnMap, RawTable } from './raw.js';
import type { ColumnReport, Recording } from './recording.js';
import { creeps, groupRates } from './refresh.js';
import { doubtReverse, rejectConstants, rejectFrozen, settleAll, settleSigns } from './settling.js';
import { markStillness } from './stillness-marking.js';

export interface BuildOptions {
  /** The user's corrections. */
  readonly map?: ColumnMap;
  /** Channel knowledge; the library's own catalogue unless a test brings another. */
  readonly catalogue?: Catalogue;
}

export type BuildResult =
  | { readonly ok: true; readonly recording: Recording }
  | { readonly ok: false; readonly fault: InputFault; readonly columns: readonly ColumnReport[] };

/**
 * Turns a table into a recording: columns become channels in the catalogue's units, bad samples become "no sample" and
 * are counted, every doubt is a problem, every column has its report. Never throws for the content of a table; fault
 * `no-channel` when not one column was recognised.
 */
export function buildRecording(table: RawTable, options: BuildOptions = {}): BuildResult {
  const house = houseUnits(options.catalogue ?? channelCatalogue());
  const { overrides, problems: mapProblems } = matchOverrides(table.columns, options.map);
  const scratch = scratchFor(table);
  let read = readColumns(table, overrides, house.catalogue);
  // What one column leaves open, its kin settles: read again with what was learned.
  if (house.open() && house.learn(read.candidates)) read = readColumns(table, overrides, house.catalogue);
  const { candidates, rejections, problems } = read;
  const supported = rejectConstants(candidates, rejections, problems);
  const signed = settleSigns(supported, rejections, problems);
  const settled = settleAll(signed, table.time, scratch, rejections, problems);
  const engine = settled.find((c) => c.facts.id === 'engineSpeed');
  const believed = settled.filter((candidate) => {
    const rejection = coldEngineDoubt(candidate, engine, table.time, problems);
    if (rejection !== undefined) rejections.push(rejection);
    return rejection === undefined;
  });
  markStillness(believed, table.time, scratch, problems);
  tellLeaps(believed, table.time, table.problems, problems);
  doubtReverse(believed, scratch, problems);
  const channels = rejectFrozen(believed, rejections);
  if (channels.length === 0) {
    return { ok: false, fault: noChannel(table), columns: reports(table, channels, rejections) };
  }
  rateGroups(channels, table);
  return {
    ok: true,
    recording: assemble(table, channels, rejections, [...table.problems, ...mapProblems, ...problems.items]),
  };
}

/** Room for the rows at which runs begin: that of compiled code, where the columns lie in its memory. */
function scratchFor({ columns, rows }: RawTable): Int32Array {
  for (const { values } of columns) {
    const scanner = values.length === 0 ? undefined : runScannerOf(values);
    if (scanner !== undefined && scanner.starts.length >= rows) return scanner.starts;
  }
  return new Int32Array(rows);
}

interface ColumnsRead {
  readonly candidates: Candidate[];
  readonly rejections: Rejection[];
  readonly problems: ProblemList;
}

function readColumns(
  table: RawTable,
  overrides: ReadonlyMap<number, ColumnOverride>,
  catalogue: Catalogue,
): ColumnsRead {
  const problems = new ProblemList();
  const candidates: Candidate[] = [];
  const rejections: Rejection[] = [];
  for (const column of table.columns) {
    if (column.index === table.timeColumn) continue;
    const read = readColumn(column, overrides.get(column.index), catalogue, problems);
    if ('facts' in read) candidates.push(read);
    else rejections.push(read);
  }
  return { candidates, rejections, problems };
}

/** Gives each channel the rate of the channels of its cadence. */
function rateGroups(channels: readonly Candidate[], table: RawTable): void {
  const { rows, time } = table;
  const span = rows > 1 ? time[rows - 1]! - time[0]! : 0;
  const rowRate = span > 0 ? medianRate(time) : Number.NaN;
  const rates = groupRates(
    channels.map((c) => ({
      rate: c.rate,
      changes: c.changes!,
      creeps: creeps(c.runs!),
      fillRate: c.column.filled < 0.7 * rows && span > 0 ? Math.min(rowRate, c.column.filled / span) : Number.NaN,
    })),
    rows,
    rowRate,
  );
  for (let k = 0; k < channels.length; k++) channels[k]!.groupRate = rates[k]!;
}

/** Rows per second by the median of up to 2000 row distances. */
function medianRate(time: Float64Array): number {
  const stride = Math.max(1, Math.floor(time.length / 2000));
  const steps: number[] = [];
  for (let i = 1; i < time.length; i += stride) steps.push(time[i]! - time[i - 1]!);
  steps.sort((a, b) => a - b);
  return 1 / steps[steps.length >> 1]!;
}
