import type { ChannelFacts } from './catalogue.js';
import type { Changes } from './changes.js';
import type { Removal } from './cleaning.js';
import type { Problem } from './problem.js';
import type { ProblemCode } from './problem-code.js';
import type { RawColumn } from './raw.js';
import type { Certainty, Interval, Place } from './recording.js';
import type { Runs } from './run.js';

/** What has to be known from other channels before the values are in the catalogue's unit. */
export type Pending = 'afr' | 'gauge' | 'reference' | 'absolute';

/** A column on its way to becoming a channel; private to the building of one recording, hence mutable. */
export interface Candidate {
  readonly column: RawColumn;
  facts: ChannelFacts;
  certainty: Certainty;
  readonly sourceUnit: string;
  /** Samples as written with scale and offset of the map file; never changed. */
  readonly raw: Float64Array;
  /** Samples in the catalogue unit (in AFR or kPa of unknown reference while pending); replaced, never changed. */
  values: Float64Array;
  pending: Pending | undefined;
  readonly place: Place | undefined;
  readonly reasons: string[];
  readonly doubts: string[];
  /** True when the map file fixed the sign or scale. */
  readonly userScaled: boolean;
  runs: Runs | undefined;
  changes: Changes | undefined;
  rate: number;
  groupRate: number;
  removed: { sentinel: number; implausible: number; spike: number; frozen: number };
  frozen: Interval[];
  saturated: Interval[];
  leaps?: readonly number[];
}

/** A column that does not become a channel. */
export interface Rejection {
  readonly column: RawColumn;
  readonly channel: string | undefined;
  readonly reason: string;
  readonly doubts: readonly string[];
  /** True when no name was recognised. */
  readonly unrecognised: boolean;
}

/** Collects problems; message without the column's name, which is put in front. */
export class ProblemList {
  private readonly single: Problem[] = [];
  private readonly shared = new Map<ProblemCode, { message: string; columns: RawColumn[] }>();

  /** All problems; those that many columns share stand first, one line each. */
  get items(): Problem[] {
    const lines = [...this.shared].map(([code, { message, columns }]): Problem => {
      const labels = columns.slice(0, 6).map((column) => `"${column.label.slice(0, 40)}"`);
      const more = columns.length > 6 ? ` and ${columns.length - 6} more` : '';
      return { code, message: `${message}: ${labels.join(', ')}${more}`, count: columns.length };
    });
    return [...lines, ...this.single];
  }

  /** A remark that usually holds for many columns alike: collected into one problem. */
  collect(code: ProblemCode, column: RawColumn, message: string): void {
    const entry = this.shared.get(code);
    if (entry === undefined) this.shared.set(code, { message, columns: [column] });
    else entry.columns.push(column);
  }

  add(
    code: ProblemCode,
    column: RawColumn,
    channel: string | undefined,
    message: string,
    extra: Partial<Problem> = {},
  ): void {
    this.single.push({
      code,
      message: `Column "${column.label}": ${message}`,
      column: column.index + 1,
      ...(channel === undefined ? {} : { channel }),
      ...extra,
    });
  }

  /** A removal of samples, with the time it spans; nothing when no sample was removed. */
  removal(code: ProblemCode, candidate: Candidate, time: Float64Array, removed: Removal, what: string): void {
    if (removed.count === 0) return;
    this.add(code, candidate.column, candidate.facts.id, `${removed.count} ${what}; set aside`, {
      count: removed.count,
      from: time[removed.first]!,
      to: time[removed.last]!,
    });
  }
}

/** The line that mends a doubt in a map file. */
export function mapLine(column: RawColumn, entry: string): string {
  return `in a map file: columns: { "${column.label}": { ${entry} } }`;
}
