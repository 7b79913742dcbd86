import { isNoSample, numberShape, SHAPE } from './number-text.js';
import { afterRecord, breaksInside, recordEnd, splitCells } from './record.js';
import { parseStamp } from './stamp.js';

/** One record of the head, with what its cells look like under one delimiter. */
export interface HeadRecord {
  /** Physical line from 1, and byte offsets of the record and of the one after it. */
  readonly line: number;
  readonly start: number;
  readonly next: number;
  readonly cells: readonly string[];
  readonly blank: boolean;
  readonly comment: boolean;
  /** Cells that say something, and those of them that are a number or a time stamp. */
  readonly said: number;
  readonly numeric: number;
  /** Those with one decimal point, and with one decimal comma. */
  readonly points: number;
  readonly commas: number;
  /** A row of measured values rather than of words. */
  readonly data: boolean;
  /** The record ended with a line end (false only for the last one of a file). */
  readonly closed: boolean;
}

/** Records looked at: enough for a preamble of thousands of lines and a typical stretch of the table. */
const MAX_RECORDS = 20_000;
const MAX_CELL = 400;

export function headRecords(
  bytes: Uint8Array,
  complete: boolean,
  delimiter: string,
  decode: (bytes: Uint8Array) => string,
  columns: number,
): HeadRecord[] {
  const byte = delimiter.charCodeAt(0);
  const records: HeadRecord[] = [];
  let line = 1;
  let at = 0;
  while (at < bytes.length && records.length < MAX_RECORDS) {
    const plain = plainEnd(bytes, at);
    const end = plain >= 0 ? plain : recordEnd(bytes, at, bytes.length, byte, complete);
    if (end < 0) break;
    const next = afterRecord(bytes, end, bytes.length);
    const text = decode(bytes.subarray(at, end));
    records.push(headRecord(text, delimiter, line, at, next, next > end, columns));
    line += 1 + (plain >= 0 ? 0 : breaksInside(bytes, at, end));
    at = next;
  }
  return records;
}

const LF = 10;
const CR = 13;
const QUOTE = 34;

/** Bytes among which the end of a plain record is looked for: looking is fast, but must not be repeated over a whole head. */
const PLAIN_BYTES = 4096;

/** End of a record that holds no quote and ends in LF or CR LF; -1 where it is another, or longer than {@link PLAIN_BYTES}. */
function plainEnd(bytes: Uint8Array, from: number): number {
  const window = bytes.subarray(from, from + PLAIN_BYTES);
  const feed = window.indexOf(LF);
  if (feed < 0) return -1;
  const record = window.subarray(0, feed);
  if (record.includes(QUOTE)) return -1;
  const back = record.indexOf(CR);
  if (back < 0) return from + feed;
  return back === feed - 1 ? from + back : -1;
}

function headRecord(
  text: string,
  delimiter: string,
  line: number,
  start: number,
  next: number,
  closed: boolean,
  columns: number,
): HeadRecord {
  const comment = commentLength(text, delimiter) > 0;
  const cells = splitCells(text, delimiter);
  let said = 0;
  let numeric = 0;
  let firstNumeric = false;
  let points = 0;
  let commas = 0;
  // Absurdly wide records are refused later; counting a part of them is enough here.
  const bound = Math.min(cells.length, columns + 1);
  for (let i = 0; i < bound; i++) {
    const cell = cells[i]!;
    if (cell === '' || isNoSample(cell)) continue;
    said++;
    const shape = cell.length > MAX_CELL ? SHAPE.none : numberShape(cell);
    if (shape === SHAPE.point) points++;
    else if (shape === SHAPE.comma) commas++;
    if (shape !== SHAPE.none || isStamp(cell)) {
      numeric++;
      if (said === 1) firstNumeric = true;
    }
  }
  return {
    line,
    start,
    next,
    cells,
    blank: said === 0 && cells.every((cell) => cell === ''),
    comment,
    said,
    numeric,
    points,
    commas,
    data: !comment && numeric > 0 && (firstNumeric || numeric * 2 > said),
    closed,
  };
}

export function isNumeric(cell: string): boolean {
  return cell.length <= MAX_CELL && (numberShape(cell) !== SHAPE.none || isStamp(cell));
}

/** Begins with a digit or the T of a time, and is a time stamp that exists. */
function isStamp(cell: string): boolean {
  const code = cell.charCodeAt(0);
  return ((code >= 48 && code <= 57) || code === 84) && cell.length < 48 && parseStamp(cell) !== null;
}

/** Length of the comment sign at the start of a line, 0 when it is none. */
export function commentLength(text: string, delimiter: string): number {
  let at = 0;
  while (text[at] === ' ' || text[at] === '\t' || text[at] === '"') at++;
  const first = text[at];
  const start = at;
  if (first === '#' || first === '%' || first === '*' || first === '!') {
    while (text[at] === first) at++;
    // A bare `%` or `#` cell is a unit or a counter's name, not a comment.
    return text[at] === delimiter && at - start === 1 ? 0 : at;
  }
  if (first === '/' && text[at + 1] === '/') return at + 2;
  if (first === ';' && delimiter !== ';') return at + 1;
  if (first === '-' && text[at + 1] === '-' && text[at + 2] === ' ') return at + 2;
  return 0;
}
