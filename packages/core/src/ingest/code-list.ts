import { decodeTroubleCode, parseTroubleCode, type TroubleCode } from '../codes/structure.js';
import type { CodeStatus, RawCode, RawReading, RawReadOut } from '../recording/raw-read-out.js';
import { cellNumber, decimalOf } from './cell-number.js';
import { statusesOf } from './code-status.js';
import { type ListRecord, plainWords, rolesOf, shown } from './list-record.js';
import { ProblemBook } from './problem-book.js';

type Role = 'code' | 'status' | 'module' | 'text' | 'ignored' | 'name' | 'value' | 'unit';

/** Head cells by what they mean; the first that fits wins. */
const HEAD: Readonly<Record<Role, RegExp>> = {
  code: /^((diagnostic )?(trouble |fault |error )?codes?|dtcs?|(obd )?dtc( code| number| hex)?|fault( number)?|hex( code)?|code hex|spn)$/,
  status: /^((code |dtc |fault )?(status|state|type|kind|category)( byte)?|service|mode)$/,
  module: /^((control )?(unit|module)|ecu|controller|system|control unit name|address)$/,
  text: /^(description|text|meaning|fault text|definition|fault description|message|title|remarks?|comment)$/,
  ignored:
    /^(no|nr|index|row|date|time|timestamp|date time|priority|severity|checked|freeze frame( number| no)?|frame)$/,
  name: /^(freeze frame )?(name|parameter|signal|channel|measuring value)$/,
  value: /^(freeze frame )?value$/,
  unit: /^(freeze frame )?units?$/,
};

/** What a list says when it holds no code. */
const NO_CODES =
  /\bno (stored |pending |permanent |confirmed |active |present )*((diagnostic )?(trouble |fault )?codes?|dtcs?|faults?)( (are )?(stored|found|present|detected|set))?\b|^(0|zero) (codes?|dtcs?|faults?)|\b(codes?|dtcs?|faults?)( found| stored)? ?[:=] ?(0|none)$/i;

/** Five characters that begin like a code but are none, for a fault that names the line. */
const NEARLY = /^[PCBU][0-9A-Z]{3,7}$/i;

/** True for a row of column names of a code list: a code column, and at least one more that is known. */
export function isCodeHead(cells: readonly string[]): boolean {
  const roles = rolesOf(cells, HEAD);
  return (
    roles.has('code') && (cells.length === 1 || roles.size > 1) && cells.every((cell) => codeIn(cell) === undefined)
  );
}

export function saysNoCodes(text: string): boolean {
  return NO_CODES.test(text.trim());
}

/**
 * Trouble codes of a list in any sensible layout: a table with a head (code, status, control unit, text, and freeze-frame
 * values in further columns), a table without one, or plain text, one code a line, under headings such as "Pending codes",
 * freeze-frame values on the same line or on those below. Never throws; what cannot be read is a problem with its line.
 */
export function readCodeList(records: readonly ListRecord[]): RawReadOut {
  const problems = new ProblemBook();
  const said = records.filter((record) => !record.blank);
  const headAt = said.findIndex((record) => isCodeHead(record.cells));
  const decimal = decimalOf(said.flatMap((record) => record.cells));
  const codes =
    headAt >= 0
      ? tableCodes(said[headAt]!, said.slice(headAt + 1), decimal, problems)
      : looseCodes(said, decimal, problems);
  if (codes.length === 0 && headAt < 0 && !said.some((record) => record.cells.some(saysNoCodes)))
    problems.add('no-code-read', said[0]?.line, 'no trouble code could be read, expected codes such as P0301');
  return {
    kind: 'code-list',
    rows: codes.length,
    readings: [],
    codes: merged(codes, problems),
    problems: problems.items,
  };
}

type Decimal = '.' | ',' | undefined;

function tableCodes(head: ListRecord, rows: readonly ListRecord[], decimal: Decimal, problems: ProblemBook): RawCode[] {
  const roles = rolesOf(head.cells, HEAD);
  const at = (row: ListRecord, role: Role): string => row.cells[roles.get(role) ?? -1] ?? '';
  const known = new Set(roles.values());
  const more = head.cells
    .map((name, column) => ({ name, column }))
    .filter(({ name, column }) => name !== '' && !known.has(column));
  const codes: RawCode[] = [];
  let heading: readonly CodeStatus[] = [];
  for (const row of rows) {
    if (row.comment || saysNoCodes(row.cells.join(' '))) continue;
    const cell = at(row, 'code');
    const code = codeIn(cell) ?? hexCode(cell);
    if (code === undefined) {
      const filled = row.cells.filter((each) => each !== '');
      // A heading between the rows, a value of the code above, or a row that cannot be read.
      if (filled.length === 1 && statusesOf(filled[0]!).length > 0) heading = statusesOf(filled[0]!);
      else if (cell === '' && codes.length > 0 && roles.has('name') && at(row, 'name') !== '')
        extend(codes, reading(at(row, 'name'), at(row, 'value'), at(row, 'unit'), row.line, decimal, problems));
      else if (filled.length > 0) problems.unreadable(row.line, cell === '' ? filled.join(', ') : cell);
      continue;
    }
    const own = at(row, 'status');
    const statuses = own === '' ? heading : statusesOf(own, true);
    if (own !== '' && statuses.length === 0)
      problems.add(
        'status-unknown',
        row.line,
        `status "${shown(own)}" is not known; expected stored, pending or permanent; read as stored`,
      );
    const frame = more.flatMap(({ name, column }) => {
      const value = row.cells[column] ?? '';
      return value === '' ? [] : [reading(name, value, '', row.line, decimal, problems)];
    });
    if (at(row, 'name') !== '')
      frame.push(reading(at(row, 'name'), at(row, 'value'), at(row, 'unit'), row.line, decimal, problems));
    codes.push(entry(code, statuses, at(row, 'module'), at(row, 'text'), frame, row.line));
  }
  return codes;
}

/** Rows without a head, or plain text. */
function looseCodes(rows: readonly ListRecord[], decimal: Decimal, problems: ProblemBook): RawCode[] {
  const codes: RawCode[] = [];
  let heading: readonly CodeStatus[] = [];
  let module = '';
  for (const row of rows) {
    const cells = row.cells.filter((cell) => cell !== '');
    const line = cells.join(', ');
    const at = cells.findIndex((cell) => codeIn(firstWord(cell)) !== undefined);
    if (at < 0) {
      if (saysNoCodes(line)) continue;
      const first = firstWord(cells[0] ?? '');
      const named = statusesOf(line);
      const value = frameValue(cells, row.line, decimal, problems);
      if (NEARLY.test(first) && /\d/.test(first)) problems.unreadable(row.line, first);
      else if (value !== undefined && codes.length > 0) extend(codes, value);
      else if (named.length > 0 && /codes?|dtc|faults?|stored|pending|permanent/i.test(line)) heading = named;
      else if (/^\W*((control )?(unit|module)|ecu)\b\W*/i.test(line))
        module = line.replace(/^\W*((control )?(unit|module)|ecu)\b\W*/i, '');
      else if (!row.comment) problems.skipped(row.line);
      continue;
    }
    const code = codeIn(firstWord(cells[at]!))!;
    const rest = [cells[at]!.slice(firstWord(cells[at]!).length), ...cells.slice(at + 1)];
    const before = cells
      .slice(0, at)
      .filter((cell) => !/^\d+\.?$/.test(cell) && statusesOf(cell).length === 0 && !/^\d{4}-|\d:\d/.test(cell));
    codes.push(
      looseEntry(code, [...cells.slice(0, at), ...rest], heading, before[0] ?? module, row.line, decimal, problems),
    );
  }
  return codes;
}

function looseEntry(
  code: TroubleCode,
  parts: readonly string[],
  heading: readonly CodeStatus[],
  module: string,
  line: number,
  decimal: Decimal,
  problems: ProblemBook,
): RawCode {
  const statuses = new Set<CodeStatus>();
  const frame: RawReading[] = [];
  const words: string[] = [];
  for (const part of parts.flatMap((cell) => cell.split(/[,;|]\s|\s[-–—]\s|[()[\]]/))) {
    const text = part.replace(/^[\s:;,–—-]+|[\s:;,–—-]+$/g, '');
    if (text === '' || /^\d+\.?$/.test(text) || text === module) continue;
    const found = statusesOf(text);
    const value = found.length > 0 ? undefined : frameValue([text], line, decimal, problems);
    for (const status of found) statuses.add(status);
    if (value !== undefined) frame.push(value);
    else if (found.length === 0 || text.split(' ').length > 3) words.push(text);
  }
  return entry(code, statuses.size > 0 ? [...statuses] : heading, module, words.join(', '), frame, line);
}

/** `Engine speed: 2500 rpm`, `rpm 2500`, or cells of name, value, unit; undefined when it is no value. */
function frameValue(
  cells: readonly string[],
  line: number,
  decimal: Decimal,
  problems: ProblemBook,
): RawReading | undefined {
  if (cells.length >= 2 && cells.length <= 4) {
    const number = cellNumber(cells[1]!, decimal);
    if (Number.isNaN(number.value) || !/\p{L}/u.test(cells[0]!)) return undefined;
    return reading(cells[0]!, cells[1]!, cells[2] ?? '', line, decimal, problems);
  }
  const text = cells[0] ?? '';
  const split = /^(\p{L}.*?)\s*(?:[:=]\s*|\s)([+-]?\d[\d.,]*(?:\s?\S{1,10})?)$/u.exec(text);
  if (split === null || Number.isNaN(cellNumber(split[2]!, decimal).value)) return undefined;
  return reading(split[1]!, split[2]!, '', line, decimal, problems);
}

function reading(
  name: string,
  text: string,
  unit: string,
  line: number,
  decimal: Decimal,
  problems: ProblemBook,
): RawReading {
  const number = cellNumber(text, decimal);
  if (number.doubtful)
    problems.add(
      'value-doubtful',
      line,
      `"${shown(text)}" is read as thousands or as decimals; write it without grouping; left out`,
    );
  return {
    name,
    text,
    value: number.value,
    unit: unit === '' ? number.unit : unit,
    low: Number.NaN,
    high: Number.NaN,
    module: '',
    line,
  };
}

function extend(codes: RawCode[], value: RawReading): void {
  const last = codes[codes.length - 1]!;
  codes[codes.length - 1] = { ...last, frame: [...last.frame, value] };
}

function entry(
  code: TroubleCode,
  statuses: readonly CodeStatus[],
  module: string,
  text: string,
  frame: readonly RawReading[],
  line: number,
): RawCode {
  const assumed = statuses.length === 0;
  return { code, statuses: assumed ? ['stored'] : statuses, assumed, module, text, frame, line };
}

/** One entry a code and control unit: statuses and freeze frames of repeated rows come together. */
function merged(codes: readonly RawCode[], problems: ProblemBook): RawCode[] {
  const byKey = new Map<string, RawCode>();
  for (const each of codes) {
    const key = `${each.code.code} ${each.code.failureType ?? ''} ${plainWords(each.module)}`;
    const before = byKey.get(key);
    if (before === undefined) {
      byKey.set(key, each);
      continue;
    }
    const told = [before, each].filter(({ assumed }) => !assumed);
    const statuses = [...new Set((told.length === 0 ? [before] : told).flatMap((one) => one.statuses))];
    byKey.set(key, {
      ...before,
      statuses,
      assumed: told.length === 0,
      text: before.text === '' ? each.text : before.text,
      frame: before.frame.length >= each.frame.length ? before.frame : each.frame,
    });
  }
  const list = [...byKey.values()];
  const open = list.filter(({ assumed }) => assumed);
  if (open.length > 0)
    problems.add(
      'status-assumed',
      open[0]!.line,
      `${open.length} of ${list.length} codes carry no status; expected stored, pending or permanent; read as stored`,
    );
  return list;
}

function firstWord(cell: string): string {
  return (cell.trim().split(/[\s,;|(]/, 1)[0] ?? '').replace(/:$/, '');
}

function codeIn(cell: string): TroubleCode | undefined {
  const whole = parseTroubleCode(cell);
  return whole ?? parseTroubleCode(firstWord(cell));
}

/** Bytes without a sign, `0301` or `03 01 00`, are only read where the head says that the column holds codes. */
function hexCode(cell: string): TroubleCode | undefined {
  const bytes = /^([0-9A-Fa-f]{2}) ?([0-9A-Fa-f]{2})(?: ?([0-9A-Fa-f]{2}))?h?$/.exec(cell.trim());
  return bytes === null ? undefined : decodeTroubleCode(`${bytes[1]}${bytes[2]}`, bytes[3]);
}
