import type { Candidate, Rejection } from './candidate.js';
import type { InputFault } from './problem.js';
import type { RawTable } from './raw.js';
import type { Channel, ColumnReport, Recording } from './recording.js';

export function noChannel(table: RawTable): InputFault {
  const labels = table.columns.slice(0, 8).map((column) => `"${column.label.slice(0, 40)}"`);
  return {
    code: 'no-channel',
    message: `None of the ${table.columns.length} columns was recognised as a channel (${labels.join(', ')}${table.columns.length > 8 ? ', ...' : ''}); expected names such as "Engine speed (rpm)"; name them in a map file`,
    line: table.dialect.headerLine,
  };
}

export function assemble(
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
    ...(table.startedAt === undefined ? {} : { startedAt: table.startedAt }),
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
      quantum: facts.kind === 'number' ? Math.min(runs!.quantum, facts.coarsest) : runs!.quantum,
      samples: runs!.samples,
      removed: candidate.removed,
      frozen: candidate.frozen,
      saturated: candidate.saturated,
      ...(candidate.leaps === undefined ? {} : { leaps: candidate.leaps }),
      constant: runs!.count <= 1,
      ...(runs!.samples > 0 ? { range: { low: runs!.min, high: runs!.max } } : {}),
    },
  };
}

/** One report for every column of the file, in the order of the file. */
export function reports(
  table: RawTable,
  channels: readonly Candidate[],
  rejections: readonly Rejection[],
): ColumnReport[] {
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
