import { type HeadReading, isRow } from './delimiter.js';
import { commentLength, type HeadRecord } from './head-record.js';
import { labelWeight } from './label.js';
import { isBracketed, isUnitWord } from './unit-words.js';

/** Where the table stands in the head. Indexes into the records; -1 = absent. */
export interface HeaderPlace {
  readonly header: number;
  readonly units: number;
  readonly sources: number;
  /** First row of values; the number of records when there is none. */
  readonly first: number;
  readonly confidence: number;
}

/** Names of a row that are looked up in the channel catalogue. */
const WEIGHED = 64;

/** Records above the first row of values among which the header is looked for. */
const REACH = 8;

/** Index of the first row of values: most rows after it are values, most before it are not. */
function firstDataRecord(reading: HeadReading): number {
  const { records, width } = reading;
  let before = 0;
  let after = 0;
  for (const record of records) if (isRow(record, width)) after++;
  let best = -1;
  let at = records.length;
  for (let i = 0; i < records.length; i++) {
    const record = records[i]!;
    if (record.blank || record.comment) continue;
    const row = isRow(record, width);
    if (row && before + after >= best) {
      best = before + after;
      at = i;
    }
    if (row) after--;
    else before++;
  }
  return at;
}

/** Header row, unit row and source row, wherever they stand above the values. */
export function placeHeader(reading: HeadReading, headerLine: number | undefined): HeaderPlace {
  const { records } = reading;
  let first = firstDataRecord(reading);
  let header = -1;
  let confidence = 1;
  if (headerLine !== undefined) {
    header = records.findIndex((record) => record.line === headerLine);
    first = nextData(reading, header);
  } else {
    let best = 0;
    const candidates = candidatesAbove(reading, first);
    // The names of a row that stands alone are only looked up until they say enough.
    const enough = candidates.length === 1 ? SURE : Number.POSITIVE_INFINITY;
    for (const { index, cells, form } of candidates) {
      const score = form + knownShare(cells, enough - form);
      if (score > best + (records[index]!.comment ? 0.3 : 0)) {
        best = score;
        header = index;
      }
    }
    confidence = Math.min(1, best / SURE);
  }
  if (header < 0) return { header, units: -1, sources: -1, first, confidence: 0 };
  return { header, ...furtherHeadRows(reading, header, first), first, confidence };
}

/** Score from which a row is the header for sure. */
const SURE = 1.2;

interface Candidate {
  readonly index: number;
  readonly cells: readonly string[];
  /** What the form of the row says, see {@link headerForm}, less for each row nearer to the values. */
  readonly form: number;
}

/** Rows above the values that could be the header, the nearest first. */
function candidatesAbove({ records, delimiter, width }: HeadReading, first: number): Candidate[] {
  const candidates: Candidate[] = [];
  let seen = 0;
  for (let index = first - 1; index >= 0 && seen < REACH; index--) {
    const record = records[index]!;
    if (record.blank) continue;
    seen++;
    const cells = headCells(record, delimiter);
    const form = headerForm(cells, width);
    if (form !== undefined) candidates.push({ index, cells, form: form - seen * 0.02 });
  }
  return candidates;
}

function nextData(reading: HeadReading, header: number): number {
  for (let i = header + 1; i < reading.records.length; i++) if (isRow(reading.records[i]!, reading.width)) return i;
  return reading.records.length;
}

function furtherHeadRows(reading: HeadReading, header: number, first: number): { units: number; sources: number } {
  const { records, delimiter } = reading;
  const columns = headCells(records[header]!, delimiter).length;
  let units = -1;
  let sources = -1;
  for (let i = header + 1; i < first; i++) {
    const record = records[i]!;
    if (record.blank) continue;
    const cells = headCells(record, delimiter);
    const shape = headShape(cells);
    if (shape.said === 0 || cells.length > columns + 3 || cells.every(isRule)) continue;
    if (shape.units * 2 >= shape.said && units < 0) units = i;
    else if (sources < 0 && !record.comment && cells.length * 2 >= columns) sources = i;
  }
  // Units (or groups that tell equal names apart) may also stand directly above the names.
  const above = records[header - 1];
  if (above !== undefined && !above.blank && !above.data) {
    const cells = headCells(above, delimiter);
    const shape = headShape(cells);
    if (Math.abs(cells.length - columns) <= 1 && shape.said >= 2) {
      if (units < 0 && shape.units >= shape.said * 0.6) units = header - 1;
    }
  }
  return { units, sources };
}

/** Nothing but the strokes of a drawn line. */
function isRule(cell: string): boolean {
  for (const char of cell) if (!'-=_:+'.includes(char)) return false;
  return true;
}

/** Cells of a head record, a comment sign taken off (`# time,rpm`). */
export function headCells(record: HeadRecord, delimiter: string): readonly string[] {
  if (!record.comment) return record.cells;
  const first = record.cells[0] ?? '';
  const length = commentLength(first, delimiter);
  return [first.slice(length).trim(), ...record.cells.slice(1)];
}

interface HeadShape {
  readonly said: number;
  readonly units: number;
  readonly distinct: number;
}

function headShape(cells: readonly string[]): HeadShape {
  let said = 0;
  let units = 0;
  const labels = new Set<string>();
  for (const cell of cells) {
    if (cell === '') continue;
    said++;
    labels.add(cell);
    if (isBracketed(cell) || isUnitWord(cell)) units++;
  }
  return { said, units, distinct: labels.size };
}

/**
 * Mean weight of the names, 0..1: the first names of a wide row say enough. Where the share reaches `enough`, that much of it
 * is given.
 */
function knownShare(cells: readonly string[], enough: number): number {
  const names = cells.filter((cell) => cell !== '').slice(0, WEIGHED);
  let known = 0;
  for (const name of names) {
    known += labelWeight(name);
    if (known >= enough * names.length) break;
  }
  return known / names.length;
}

/** Undefined = cannot be a header; else about 1 = a full row of distinct words, to which comes how many are known. */
function headerForm(cells: readonly string[], width: number): number | undefined {
  const shape = headShape(cells);
  if (shape.said === 0 || (width > 1 && cells.length < 2)) return undefined;
  const coverage = Math.min(1, shape.said / width);
  // A line of two cells above a table of twenty is a remark.
  if (coverage < 0.4 || cells.length > width * 2 + 3) return undefined;
  const share = (count: number) => count / shape.said;
  return coverage - 0.9 * share(shape.units) - 0.3 * (1 - share(shape.distinct)) - share(longCells(cells));
}

function longCells(cells: readonly string[]): number {
  let long = 0;
  for (const cell of cells) if (cell.length > 120) long++;
  return long;
}
