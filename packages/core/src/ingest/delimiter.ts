import type { Dialect } from '../recording/raw.js';
import { type HeadRecord, headRecords } from './head-record.js';

export type Delimiter = Dialect['delimiter'];

const DELIMITERS: readonly Delimiter[] = [',', ';', '\t', '|'];

/** The head read under one delimiter. */
export interface HeadReading {
  readonly delimiter: Delimiter;
  readonly records: readonly HeadRecord[];
  /** Cells of a typical row of values; 0 when there is none. */
  readonly width: number;
  /** Rows of values of about that width, and the share of their cells that are numbers or time stamps. */
  readonly rows: number;
  readonly purity: number;
  readonly score: number;
}

/**
 * Reads the head under each delimiter and ranks them: the right one gives the most rows of equal width whose cells are
 * numbers or time stamps. (A guess from the character counts, as libraries make it, takes the comma of decimal commas
 * and of units in header cells.)
 */
export function rankDelimiters(
  bytes: Uint8Array,
  complete: boolean,
  decode: (bytes: Uint8Array) => string,
  columns: number,
  only: Delimiter | undefined,
): HeadReading[] {
  // A delimiter that does not occur needs no reading; the comma stands for tables of a single column.
  const met = DELIMITERS.filter((delimiter) => bytes.includes(delimiter.charCodeAt(0)));
  const candidates = only === undefined ? (met.length > 0 ? met : DELIMITERS.slice(0, 1)) : [only];
  const read = (delimiter: Delimiter, part: Uint8Array, whole: boolean): HeadReading =>
    rate(delimiter, headRecords(part, whole, delimiter, decode, columns));
  const better = (a: HeadReading, b: HeadReading): number => b.score - a.score || b.width - a.width;
  let beaten: HeadReading[] = [];
  let hopeful: readonly Delimiter[] = candidates;
  if (candidates.length > 1 && bytes.length > 2 * FIRST_LOOK) {
    // Where the first rows tell them apart clearly, the others need not be read to the end.
    const looks = candidates.map((delimiter) => read(delimiter, bytes.subarray(0, FIRST_LOOK), false)).sort(better);
    if (looks[0]!.rows >= CLEAR_ROWS) {
      beaten = looks.filter(({ score }) => score * CLEAR < looks[0]!.score);
      hopeful = looks.filter((look) => !beaten.includes(look)).map(({ delimiter }) => delimiter);
    }
  }
  return [...hopeful.map((delimiter) => read(delimiter, bytes, complete)), ...beaten].sort(better);
}

/** Bytes of the head that are read under every delimiter, and when they tell enough: rows of values, and how far apart the scores lie. */
const FIRST_LOOK = 8 << 10;
const CLEAR_ROWS = 20;
const CLEAR = 2;

function rate(delimiter: Delimiter, records: readonly HeadRecord[]): HeadReading {
  const numericByWidth = new Map<number, number>();
  let lines = 0;
  for (const record of records) {
    if (!record.blank) lines++;
    if (record.data) {
      const width = record.cells.length;
      numericByWidth.set(width, (numericByWidth.get(width) ?? 0) + record.numeric);
    }
  }
  let width = 0;
  let most = 0;
  for (const [candidate, numeric] of numericByWidth) {
    if (numeric > most || (numeric === most && candidate > width)) {
      most = numeric;
      width = candidate;
    }
  }
  let rows = 0;
  let numeric = 0;
  let said = 0;
  for (const record of records) {
    if (!isRow(record, width)) continue;
    rows++;
    numeric += record.numeric;
    said += record.said;
  }
  const purity = said === 0 ? 0 : numeric / said;
  const single = width === 1 ? 0.3 : 1;
  const score = lines === 0 ? 0 : (rows / lines) * purity * single;
  return { delimiter, records, width, rows, purity, score: score > 0 ? score : 1e-6 * listScore(records) };
}

/** A row of values of about the table's width (ragged and cut rows count). */
export function isRow(record: HeadRecord, width: number): boolean {
  if (!record.data) return false;
  const off = Math.abs(record.cells.length - width);
  return off <= Math.max(1, width * 0.4) && !(width > 1 && record.cells.length === 1);
}

/** Without any row of values: share of the lines that fall into the same number of cells, more when some are numbers. */
function listScore(records: readonly HeadRecord[]): number {
  const byWidth = new Map<number, number>();
  let lines = 0;
  for (const record of records) {
    if (record.blank || record.comment) continue;
    lines++;
    const width = record.cells.length;
    if (width > 1) byWidth.set(width, (byWidth.get(width) ?? 0) + 1 + record.numeric / record.said);
  }
  return lines === 0 ? 0 : Math.max(0, ...byWidth.values()) / lines;
}
