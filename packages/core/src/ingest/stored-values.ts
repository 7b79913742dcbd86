import type { RawReading, RawReadOut } from '../recording/raw-read-out.js';
import { type CellNumber, cellNumber, decimalOf } from './cell-number.js';
import { type ListRecord, rolesOf, shown } from './list-record.js';
import { ProblemBook } from './problem-book.js';

type Role = 'name' | 'value' | 'unit' | 'low' | 'high' | 'module';

const HEAD: Readonly<Record<Role, RegExp>> = {
  name: /^(name|parameter|item|description|label|signal|measuring value|value name|quantity|test|monitor|reading|designation)$/,
  value: /^(value|reading|result|test value|measured|actual|actual value|content)$/,
  unit: /^(unit|units|dimension)$/,
  low: /^(min|minimum|low|lower|lower limit|min limit|minimum limit|low limit|limit min|limit low)$/,
  high: /^(max|maximum|high|upper|upper limit|max limit|maximum limit|high limit|limit max|limit high)$/,
  module: /^(module|control unit|control module|ecu|controller|system|source)$/,
};

/** True for a row of column names of a stored-values file: at least name and value. */
export function isValuesHead(cells: readonly string[]): boolean {
  const roles = rolesOf(cells, HEAD);
  return roles.has('name') && roles.has('value');
}

/** `Launch count: 3`, `Odometer = 42000 km`: a line of one cell that holds a name and a value. */
const PLAIN = /^([^:=]*\p{L}[^:=]*?)\s*[:=]\s*(\S.*)$/u;

/** Name and value of a plain line; undefined for any other text. */
export function plainPair(cell: string): readonly [string, string] | undefined {
  const found = PLAIN.exec(cell.trim());
  return found === null ? undefined : [found[1]!.trim(), found[2]!.trim()];
}

/**
 * Values of a read-out in any sensible layout: rows of name, value and unit with or without a head (which may bring control
 * unit, lower and upper limit), or plain lines `name: value unit`. Texts are kept as written. Never throws; what cannot
 * be read is a problem with its line.
 */
export function readStoredValues(records: readonly ListRecord[]): RawReadOut {
  const problems = new ProblemBook();
  const said = records.filter((record) => !record.blank && !record.comment);
  const headAt = said.findIndex((record) => isValuesHead(record.cells));
  const roles = headAt < 0 ? undefined : rolesOf(said[headAt]!.cells, HEAD);
  const rows = roles === undefined ? said : said.slice(headAt + 1);
  const decimal = decimalOf(rows.flatMap((row) => row.cells.flatMap((cell) => plainPair(cell)?.[1] ?? cell)));
  const readings: RawReading[] = [];
  for (const row of rows) {
    const parts = partsOf(row, roles);
    if (parts === undefined) {
      problems.add(
        'value-row-unreadable',
        row.line,
        `"${shown(row.cells.join(', '))}" holds no name and value; expected name, value and unit; left out`,
      );
      continue;
    }
    const number = cellNumber(parts.value, decimal);
    if (number.doubtful)
      problems.add(
        'value-doubtful',
        row.line,
        `"${shown(parts.value)}" is read as thousands or as decimals; write it without grouping; left out`,
      );
    readings.push(readingOf(parts, number, row.line, decimal));
  }
  return { kind: 'stored-values', rows: readings.length, readings, codes: [], problems: problems.items };
}

interface Parts {
  readonly name: string;
  readonly value: string;
  readonly unit: string;
  readonly low: string;
  readonly high: string;
  readonly module: string;
}

function partsOf(row: ListRecord, roles: ReadonlyMap<Role, number> | undefined): Parts | undefined {
  const cell = (column: number | undefined): string => (column === undefined ? '' : (row.cells[column] ?? ''));
  if (roles !== undefined) {
    const name = cell(roles.get('name'));
    const value = cell(roles.get('value'));
    if (name === '' || value === '') return undefined;
    const [unit, low, high, module] = (['unit', 'low', 'high', 'module'] as const).map((role) => cell(roles.get(role)));
    return { name, value, unit: unit!, low: low!, high: high!, module: module! };
  }
  const cells = row.cells.filter((each, i) => each !== '' || i < 2);
  const [name = '', value = '', unit = ''] = cells;
  if (cells.length === 1) {
    const pair = plainPair(name);
    return pair === undefined ? undefined : { name: pair[0], value: pair[1], unit: '', low: '', high: '', module: '' };
  }
  if (name === '' || value === '' || !/\p{L}/u.test(name)) return undefined;
  const rest = { unit: '', low: '', high: '', module: '' };
  // Further numbers after the value are its limits; the unit stands before or after them.
  const numbers = cells.slice(2).filter((each) => /^[+-]?[\d.,]+$/.test(each));
  if (numbers.length === 2) {
    const word = cells.slice(2).find((each) => !/^[+-]?[\d.,]+$/.test(each));
    return { ...rest, name: name.replace(/:$/, ''), value, unit: word ?? '', low: numbers[0]!, high: numbers[1]! };
  }
  return { ...rest, name: name.replace(/:$/, ''), value, unit };
}

function readingOf(parts: Parts, number: CellNumber, line: number, decimal: '.' | ',' | undefined): RawReading {
  return {
    name: parts.name,
    text: parts.value,
    value: number.value,
    unit: parts.unit === '' ? number.unit : parts.unit,
    low: cellNumber(parts.low, decimal).value,
    high: cellNumber(parts.high, decimal).value,
    module: parts.module,
    line,
  };
}
