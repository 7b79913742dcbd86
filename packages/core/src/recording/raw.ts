import type { InputFault, Problem } from './problem.js';

/** How the text was read. `confidence` of each decision is 0..1; 1 also when the user decided. */
export interface Dialect {
  readonly encoding: 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';
  readonly delimiter: ',' | ';' | '\t' | '|';
  readonly decimal: '.' | ',';
  /** Physical line (from 1) of the row that holds the column names. */
  readonly headerLine: number;
  readonly timeFormat: TimeFormat;
  readonly confidence: Readonly<Record<'encoding' | 'delimiter' | 'decimal' | 'header' | 'time', number>>;
}

export type TimeFormat =
  | 'seconds'
  | 'milliseconds'
  | 'microseconds'
  | 'minutes'
  | 'clock'
  | 'date-time'
  | 'iso-8601'
  | 'epoch-seconds'
  | 'epoch-milliseconds'
  | 'day-serial'
  | 'rate';

/** One column as it stands in the file: numbers as written, before any unit, sign or sentinel is judged. */
export interface RawColumn {
  /** Position in the table, from 0. */
  readonly index: number;
  /** Name cell as written, trimmed, brackets and all. */
  readonly label: string;
  /** Further head cells of this column: a unit row's cell, a source row's cell ('' when absent). */
  readonly unitCell: string;
  readonly sourceCell: string;
  /** Decimal numbers, one a row; NaN where the cell is empty or not a number. Empty when the column was passed over. */
  readonly values: Float64Array;
  /** Distinct text cells, in order of appearance; at most 64 are kept. Empty for a numeric column. */
  readonly texts: readonly string[];
  /** Per row: 0 = no text cell, k = texts[k-1]. Absent for a numeric column. */
  readonly textCodes?: Uint8Array;
  /** Cells that were neither empty, a number, nor a kept text. */
  readonly rejected: number;
  /** Cells that held a number or a text; of a column that was passed over 1 when there was any. */
  readonly filled: number;
}

/** What the head of a table says of one column. */
export type HeadColumn = Pick<RawColumn, 'index' | 'label' | 'unitCell' | 'sourceCell'>;

/** The table of one recording, with its time axis settled. */
export interface RawTable {
  readonly dialect: Dialect;
  /** Seconds from the first row, strictly increasing, one a row. May be the very values of the time column: never changed. */
  readonly time: Float64Array;
  readonly rows: number;
  /** Column that gave the time, or -1 when a rate was given. */
  readonly timeColumn: number;
  /** Seconds from 1970-01-01 to the first row, by stamps that hold a date, in their own zone. */
  readonly startedAt?: number;
  readonly columns: readonly RawColumn[];
  readonly problems: readonly Problem[];
}

/** User's corrections of the reading (`--map` file and options). Every automatic decision can be overridden. */
export interface ColumnMap {
  readonly encoding?: Dialect['encoding'];
  readonly delimiter?: Dialect['delimiter'];
  readonly decimal?: Dialect['decimal'];
  readonly headerLine?: number;
  readonly time?: { readonly column?: string; readonly format?: TimeFormat };
  /** Keyed by column label as written, or `#3` for the third column. */
  readonly columns?: Readonly<
    Record<
      string,
      {
        /** Channel id, or null to leave the column out. */
        readonly channel?: string | null;
        readonly unit?: string;
        readonly scale?: number;
        readonly offset?: number;
        readonly place?: string;
      }
    >
  >;
}

export type RawResult =
  | { readonly ok: true; readonly table: RawTable }
  | { readonly ok: false; readonly fault: InputFault };
