import { type Candidate, mapLine, ProblemList, type Rejection } from './candidate.js';
import type { Catalogue } from './catalogue.js';
import { channelCatalogue } from './channel-catalogue.js';
import { coldEngineDoubt } from './cold-engine.js';
import { matchOverrides } from './column-map.js';
import { readColumn } from './column-reading.js';
import { resolveDuplicates } from './duplicate.js';
import { clean, ownRuns, unsupportedConstant } from './evidence.js';
import type { InputFault } from './problem.js';
import type { ColumnMap, RawTable } from './raw.js';
import type { Channel, ColumnReport, Recording } from './recording.js';
import { settleGauge, settleMixtures, settleReference } from './reference-settling.js';
import { groupRates } from './refresh.js';
import { signConvention } from './sign.js';
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
  const catalogue = options.catalogue ?? channelCatalogue();
  const { overrides, problems: mapProblems } = matchOverrides(table.columns, options.map);
  const problems = new ProblemList();
  const scratch = new Int32Array(table.rows);
  const candidates: Candidate[] = [];
  const rejections: Rejection[] = [];
  for (const column of table.columns) {
    if (column.index === table.timeColumn) continue;
    const read = readColumn(column, overrides.get(column.index), catalogue, problems);
    if ('facts' in read) candidates.push(read);
    else rejections.push(read);
  }
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

/** Columns that hold one value that means "not supported". */
function rejectConstants(
  candidates: readonly Candidate[],
  rejections: Rejection[],
  problems: ProblemList,
): Candidate[] {
  return candidates.filter((candidate) => {
    const reason = unsupportedConstant(candidate);
    if (reason === undefined) return true;
    const { column, facts } = candidate;
    problems.add('constant-unsupported', column, facts.id, `${reason}; not used`, { count: column.filled });
    rejections.push({ column, channel: facts.id, reason, doubts: candidate.doubts, unrecognised: false });
    return false;
  });
}

/** Retards that sources write with either sign; the columns of one kind share a convention. */
const SIGNED: readonly string[] = ['knockRetard', 'knockRetardMean', 'knockLearned'];

/** Makes knock retard positive, from the values of all columns of a kind together; mixed signs are not used. */
function settleSigns(candidates: readonly Candidate[], rejections: Rejection[], problems: ProblemList): Candidate[] {
  const mixed = new Set<Candidate>();
  for (const base of SIGNED) {
    const retards = candidates.filter((c) => c.facts.base === base && !c.userScaled);
    const convention = signConvention(retards.map((c) => c.values));
    if (convention === 'negative') for (const candidate of retards) turnSign(candidate, problems);
    if (convention === 'mixed') for (const candidate of retards) mixed.add(candidate);
  }
  for (const { column, facts } of mixed) {
    const message = 'both signs occur, so retard cannot be told from advance; not used';
    problems.add('sign-ambiguous', column, facts.id, message);
    const doubt = `${message}; if positive is retard, ${mapLine(column, 'scale: 1')}, if negative is, scale: -1`;
    rejections.push({ column, channel: facts.id, reason: message, doubts: [doubt], unrecognised: false });
  }
  return candidates.filter((candidate) => !mixed.has(candidate));
}

function turnSign(candidate: Candidate, problems: ProblemList): void {
  const { column, facts, reasons } = candidate;
  // 0 - x keeps +0, which -x would not.
  candidate.values = candidate.values.map((x) => 0 - x);
  problems.add(
    'sign-inferred',
    column,
    facts.id,
    'retard is logged as negative degrees; turned so that retard is positive',
  );
  reasons.push('sign turned: retard logged as negative');
}

/** Cleans what stands alone first, then what needs other channels to be understood, and settles duplicates. */
function settleAll(
  candidates: readonly Candidate[],
  time: Float64Array,
  scratch: Int32Array,
  rejections: Rejection[],
  problems: ProblemList,
): Candidate[] {
  const ready = candidates.filter((c) => c.pending === undefined);
  for (const candidate of ready) clean(candidate, time, scratch, problems);
  const first = new Map(resolveDuplicates(usable(ready), new ProblemList()).kept.map((c) => [c.facts.id, c]));
  const order = { reference: 0, gauge: 1, absolute: 2, afr: 3 } as const;
  const ratios = candidates.filter((c) => c.pending === 'afr');
  const waiting = candidates
    .filter((c) => c.pending !== undefined && c.pending !== 'afr')
    .sort((a, b) => order[a.pending!] - order[b.pending!] || a.column.index - b.column.index);
  const settled: Candidate[] = [];
  for (const candidate of waiting) {
    if (candidate.pending === 'reference') {
      const rejection = settleReference(candidate, first, problems);
      if (rejection !== undefined) {
        rejections.push(rejection);
        continue;
      }
    }
    if (candidate.pending !== undefined) settleGauge(candidate, first, problems);
    clean(candidate, time, scratch, problems);
    settled.push(candidate);
    if (!first.has(candidate.facts.id)) first.set(candidate.facts.id, candidate);
  }
  settleMixtures(ratios, first, problems);
  for (const candidate of ratios) clean(candidate, time, scratch, problems);
  const all = [...ready, ...settled, ...ratios];
  for (const candidate of all) {
    if (candidate.runs!.samples > 0) continue;
    const reason = `no usable sample is left of ${candidate.facts.id}`;
    rejections.push({
      column: candidate.column,
      channel: candidate.facts.id,
      reason,
      doubts: candidate.doubts,
      unrecognised: false,
    });
  }
  const { kept, rejections: duplicates } = resolveDuplicates(usable(all), problems);
  rejections.push(...duplicates);
  return kept;
}

function usable(candidates: readonly Candidate[]): Candidate[] {
  return candidates.filter((c) => c.runs!.samples > 0);
}

/** A channel of which freezing left nothing is no channel. */
function rejectFrozen(candidates: readonly Candidate[], rejections: Rejection[]): Candidate[] {
  return candidates.filter((candidate) => {
    if (candidate.frozen.length === 0 || candidate.runs!.samples > 1) return true;
    const { column, facts, doubts } = candidate;
    const reason = `${facts.id}, but it stood still from start to end while it should have moved`;
    rejections.push({ column, channel: facts.id, reason, doubts, unrecognised: false });
    return false;
  });
}

/** Nobody drives backwards faster (km/h; common practice, no source): there, 14 or 15 meant "no gear". */
const FASTEST_REVERSE = 40;

/** Sets reverse gear at driving speed aside. */
function doubtReverse(candidates: readonly Candidate[], scratch: Int32Array, problems: ProblemList): void {
  const speed = candidates.find((c) => c.facts.id === 'vehicleSpeed')?.values;
  if (speed === undefined) return;
  for (const candidate of candidates) {
    if (candidate.facts.base !== 'gear') continue;
    const kept = candidate.values.map((gear, i) => (gear === -1 && speed[i]! > FASTEST_REVERSE ? Number.NaN : gear));
    const runs = ownRuns(kept, scratch);
    const count = candidate.runs!.samples - runs.samples;
    if (count === 0) continue;
    candidate.values = kept;
    candidate.runs = runs;
    candidate.removed.implausible += count;
    const message = `${count} samples say reverse above ${FASTEST_REVERSE} km/h: taken as "no gear known" and set aside`;
    problems.add('reverse-doubtful', candidate.column, candidate.facts.id, message, { count });
  }
}

/** Gives each channel the rate of the channels of its cadence. */
function rateGroups(channels: readonly Candidate[], table: RawTable): void {
  const { rows, time } = table;
  const span = rows > 1 ? time[rows - 1]! - time[0]! : 0;
  const rowRate = span > 0 ? medianRate(time) : Number.NaN;
  const rates = groupRates(
    channels.map((c) => ({
      rate: c.rate,
      changes: c.runs!.starts.subarray(1),
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

function noChannel(table: RawTable): InputFault {
  const labels = table.columns.slice(0, 8).map((column) => `"${column.label.slice(0, 40)}"`);
  return {
    code: 'no-channel',
    message: `None of the ${table.columns.length} columns was recognised as a channel (${labels.join(', ')}${table.columns.length > 8 ? ', ...' : ''}); expected names such as "Engine speed (rpm)"; name them in a map file`,
    line: table.dialect.headerLine,
  };
}

function assemble(
  table: RawTable,
  channels: readonly Candidate[],
  rejections: readonly Rejection[],
  problems: Recording['problems'],
): Recording {
  const { rows, time } = table;
  return {
    time,
    rows,
    duration: rows > 0 ? time[rows - 1]! - time[0]! : 0,
    dialect: table.dialect,
    channels: new Map(channels.map((candidate) => [candidate.facts.id, toChannel(candidate)])),
    columns: reports(table, channels, rejections),
    unrecognised: rejections
      .filter((r) => r.unrecognised)
      .sort((a, b) => a.column.index - b.column.index)
      .map((r) => r.column.label),
    problems,
  };
}

function toChannel(candidate: Candidate): Channel {
  const { facts, values, column, certainty, sourceUnit, place, runs } = candidate;
  return {
    id: facts.id,
    unit: facts.unit,
    values,
    source: column.label,
    sourceUnit,
    certainty,
    ...(place === undefined ? {} : { place }),
    quality: {
      rate: candidate.rate,
      groupRate: candidate.groupRate,
      quantum: runs!.quantum,
      samples: runs!.samples,
      removed: candidate.removed,
      frozen: candidate.frozen,
      saturated: candidate.saturated,
      constant: runs!.count <= 1,
    },
  };
}

/** One report for every column of the file, in the order of the file. */
function reports(table: RawTable, channels: readonly Candidate[], rejections: readonly Rejection[]): ColumnReport[] {
  const found = new Map<number, ColumnReport>();
  for (const { column, facts, sourceUnit, certainty, reasons, doubts } of channels) {
    const reason = reasons.join('; ');
    found.set(column.index, {
      index: column.index,
      label: column.label,
      channel: facts.id,
      unit: facts.unit,
      sourceUnit,
      certainty,
      reason,
      doubts,
    });
  }
  for (const { column, reason, doubts } of rejections) {
    found.set(column.index, { index: column.index, label: column.label, reason, doubts });
  }
  return table.columns.map(
    (column) =>
      found.get(column.index) ?? {
        index: column.index,
        label: column.label,
        reason: 'the time axis of the recording',
        doubts: [],
      },
  );
}
