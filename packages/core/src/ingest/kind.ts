import { parseTroubleCode } from '../codes/structure.js';
import { isCodeHead, saysNoCodes } from './code-list.js';
import type { HeadReading } from './delimiter.js';
import { type HeadRecord, isNumeric } from './head-record.js';
import { isValuesHead, plainPair } from './stored-values.js';

export type InputKind = 'recording' | 'stored-values' | 'code-list';

/**
 * Kind of an input from its head. A recording wins in doubt: the two others are only recognised when rows begin with
 * a code or a name instead of a number, or when the head names the columns of a list.
 */
export function recogniseKind(reading: HeadReading): InputKind {
  const records = reading.records.filter((record) => !record.blank && !record.comment);
  if (records.length === 0) return 'recording';
  if (isCodeList(reading, records)) return 'code-list';
  return isStoredValues(reading, records) ? 'stored-values' : 'recording';
}

function isCodeList(reading: HeadReading, records: readonly HeadRecord[]): boolean {
  let leadCode = 0;
  let anyCode = 0;
  let numericInCodeRows = 0;
  let saidInCodeRows = 0;
  for (const record of records) {
    // Neither a number nor a time stamp is a code.
    if (record.numeric === record.cells.length) continue;
    const cells = record.cells.filter((cell) => cell !== '');
    if (isTroubleCode(firstWord(cells[0] ?? ''))) leadCode++;
    if (cells.some((cell) => isTroubleCode(firstWord(cell)))) {
      anyCode++;
      numericInCodeRows += record.numeric;
      saidInCodeRows += record.said;
    }
  }
  const rows = records.length;
  if (leadCode > 0 && (leadCode * 2 >= rows || reading.rows === 0)) return true;
  if (anyCode * 2 >= rows && numericInCodeRows * 2 < saidInCodeRows && reading.rows < 3) return true;
  if (anyCode * 2 >= rows && numericInCodeRows * 3 <= saidInCodeRows * 2 && reading.width <= 5 && countsUp(reading))
    return true;
  if (reading.rows === 0 && rows <= NO_CODE_LINES && records.some((record) => saysNoCodes(record.cells.join(' '))))
    return true;
  return headedCodes(records);
}

/** A sentence that there is no code stands in a short text, not in the preamble of a log. */
const NO_CODE_LINES = 60;

/** A head that names a code column, over rows of codes that differ; a log repeats its last code in every row. */
function headedCodes(records: readonly HeadRecord[]): boolean {
  const at = records.findIndex((record) => record.cells.length > 1 && !record.data && isCodeHead(record.cells));
  if (at < 0) return false;
  const rows = records.slice(at + 1);
  const timed = records[at]!.cells.some((cell) => /^(time|timestamp|elapsed)/i.test(cell));
  if (rows.length === 0) return !timed;
  const found = new Set<string>();
  let valid = 0;
  for (const { cells } of rows) {
    const code = cells.find((cell) => isTroubleCode(firstWord(cell)) || /^[0-9A-Fa-f]{2} ?[0-9A-Fa-f]{2}$/.test(cell));
    if (code === undefined) continue;
    valid++;
    found.add(code);
  }
  return valid * 2 >= rows.length && found.size * 5 >= valid * 3 && !(timed && valid > 40);
}

function isStoredValues(reading: HeadReading, records: readonly HeadRecord[]): boolean {
  // A row of measured values begins with a number or a time; a value that was read out begins with its name.
  if (records.some((record) => record.data && isNumeric(record.cells[0] ?? ''))) return false;
  if (records.some((record) => isValuesHead(record.cells))) return true;
  if (reading.rows > 0) return false;
  let leadName = 0;
  let pairs = 0;
  for (const record of records) {
    const cells = record.cells.filter((cell) => cell !== '');
    if (cells.length >= 2 && cells.length <= 3 && !isNumeric(cells[0]!) && isNumeric(cells[1]!)) leadName++;
    else if (cells.length === 1 && plainPair(cells[0]!) !== undefined) pairs++;
  }
  if (leadName >= 2 && leadName * 10 >= (records.length - 1) * 6) return true;
  return pairs >= 2 && pairs * 10 >= (records.length - 1) * 6;
}

/** First cells 1, 2, 3 …: a numbered list. */
function countsUp(reading: HeadReading): boolean {
  let expected = 1;
  for (const record of reading.records) {
    if (!record.data) continue;
    if (Number(record.cells[0]) !== expected) return false;
    expected++;
  }
  return expected > 1;
}

function firstWord(cell: string): string {
  const blank = cell.indexOf(' ');
  const word = blank < 0 ? cell : cell.slice(0, blank);
  return word.endsWith(':') ? word.slice(0, -1) : word;
}

/** How a code may begin: its letter, or 0x. */
const BEGINS = 'PCBUpcbu0';

/** A trouble code as written; width and first letter are looked at first, because every cell of a head comes by. */
function isTroubleCode(word: string): boolean {
  if (word.length < 5 || word.length > 8 || !BEGINS.includes(word[0]!)) return false;
  if (word[0] === '0' && word[1] !== 'x' && word[1] !== 'X') return false;
  return parseTroubleCode(word) !== undefined;
}
