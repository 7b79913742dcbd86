import type { HeadReading } from './delimiter.js';
import { isNumeric } from './head-record.js';

export type InputKind = 'recording' | 'stored-values' | 'code-list';

/**
 * Kind of an input from its head. A recording wins in doubt: the two others are only recognised when rows begin with
 * a code or a name instead of a number.
 */
export function recogniseKind(reading: HeadReading): InputKind {
  let rows = 0;
  let leadCode = 0;
  let anyCode = 0;
  let leadName = 0;
  let numericInCodeRows = 0;
  let saidInCodeRows = 0;
  for (const record of reading.records) {
    if (record.blank || record.comment) continue;
    rows++;
    const cells = record.cells.filter((cell) => cell !== '');
    const first = cells[0] ?? '';
    if (isTroubleCode(firstWord(first))) leadCode++;
    if (cells.some((cell) => isTroubleCode(firstWord(cell)))) {
      anyCode++;
      numericInCodeRows += record.numeric;
      saidInCodeRows += record.said;
    }
    if (cells.length >= 2 && cells.length <= 3 && !isNumeric(first) && isNumeric(cells[1]!)) leadName++;
  }
  if (rows === 0) return 'recording';
  if (leadCode * 2 >= rows && leadCode > 0) return 'code-list';
  if (anyCode * 2 >= rows && numericInCodeRows * 2 < saidInCodeRows && reading.rows < 3) return 'code-list';
  if (anyCode * 2 >= rows && numericInCodeRows * 3 <= saidInCodeRows * 2 && reading.width <= 5 && countsUp(reading))
    return 'code-list';
  if (reading.rows === 0 && leadName >= 2 && leadName * 10 >= (rows - 1) * 6) return 'stored-values';
  return 'recording';
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

/** Form of a diagnostic trouble code: P, C, B or U, a digit 0..3, three hexadecimal digits, optional failure type (SAE J2012 / ISO 15031-6). */
function isTroubleCode(word: string): boolean {
  if (word.length !== 5 && !(word.length === 8 && word[5] === '-') && !(word.length === 7)) return false;
  const upper = word.toUpperCase();
  if (!'PCBU'.includes(upper[0]!)) return false;
  if (!'0123'.includes(upper[1]!)) return false;
  for (let i = 2; i < upper.length; i++) {
    if (i === 5 && word.length === 8) continue;
    const c = upper[i]!;
    if (!((c >= '0' && c <= '9') || (c >= 'A' && c <= 'F'))) return false;
  }
  return true;
}
