import type { Problem } from '../recording/problem.js';
import type { ColumnMap, Dialect } from '../recording/raw.js';
import { guessDecimal } from './decimal.js';
import { type Delimiter, type HeadReading, isRow, rankDelimiters } from './delimiter.js';
import { printable } from './encoding.js';
import { Fault } from './fault.js';
import type { HeadRecord } from './head-record.js';
import { type HeaderPlace, headCells, placeHeader } from './header.js';
import type { Limits } from './limits.js';
import { planTime, type TimePlan } from './time-column.js';

/** Everything that is settled before the first row of values is read. */
export interface Layout {
  readonly delimiter: Delimiter;
  readonly decimal: '.' | ',';
  readonly headerLine: number;
  readonly labels: readonly string[];
  readonly unitCells: readonly string[];
  readonly sourceCells: readonly string[];
  /** 1 = nobody needs the column: its cells are passed over. Absent = all are needed. */
  readonly skipped?: Uint8Array;
  /** Cells of a typical row: may differ from the number of labels. */
  readonly rowWidth: number;
  /** Where the body begins: byte offset (after any byte order mark) and physical line. */
  readonly offset: number;
  readonly line: number;
  readonly time: TimePlan;
  readonly confidence: Readonly<Record<'delimiter' | 'decimal' | 'header' | 'time', number>>;
  readonly problems: readonly Problem[];
  /** Typical bytes of a row, for the estimate of the rows to come. */
  readonly rowBytes: number;
  /** Decimals that every sampled cell of the last column has; -1 when they differ (a cut cell shows there). */
  readonly lastDecimals: number;
}

export interface LayoutOptions {
  readonly map: ColumnMap | undefined;
  readonly rate: number | undefined;
  readonly limits: Limits;
}

/** The head under the most plausible delimiter. */
export interface Head {
  readonly reading: HeadReading;
  readonly confidence: number;
}

export function readHead(
  bytes: Uint8Array,
  complete: boolean,
  decode: (bytes: Uint8Array) => string,
  options: LayoutOptions,
): Head {
  const ranked = rankDelimiters(bytes, complete, decode, options.limits.columns, options.map?.delimiter);
  const reading = ranked[0]!;
  const second = ranked[1]?.score ?? 0;
  const confidence =
    options.map?.delimiter !== undefined
      ? 1
      : reading.score === 0
        ? 0
        : Math.min(1, Math.max(0.5, 1.2 - second / reading.score));
  return { reading, confidence };
}

/** Settles the layout of a table. Throws a {@link Fault} when the head holds no table that can be read. */
export function settleLayout(head: Head, options: LayoutOptions): Layout {
  const { reading } = head;
  const { map, limits } = options;
  const place = placeHeader(reading, map?.headerLine);
  const rows = reading.records.slice(place.first).filter((record) => isRow(record, reading.width));
  refuseWidth(reading, place, limits);
  const { labels, header } = labelsOf(reading, place, rows, map);
  const problems: Problem[] = [];
  const guess = guessDecimal(rows, reading.delimiter);
  const decimal = map?.decimal ?? guess.decimal;
  if (map?.decimal === undefined) refuseBareDecimalCommas(reading, labels, rows, decimal);
  if (map?.decimal === undefined && guess.doubt !== undefined) {
    problems.push({
      code: 'decimal-doubt',
      message:
        guess.doubt.kind === 'mixed'
          ? `cells use both "." and "," as the decimal sign; "${decimal}" was taken and the others were set aside; state decimal in the map file`
          : 'every number with a comma could also hold a thousands separator; the comma was taken as the decimal sign; state decimal in the map file',
      line: guess.doubt.line,
      column: guess.doubt.column,
    });
  }
  const cellsOf = (index: number): readonly string[] =>
    index < 0 ? [] : headCells(reading.records[index]!, reading.delimiter);
  const pad = (cells: readonly string[]): string[] => labels.map((_, i) => printable(cells[i] ?? ''));
  const unitCells = pad(cellsOf(place.units));
  const sourceCells = pad(cellsOf(place.sources));
  const time = settleTime({ labels, unitCells, rows, decimal }, options, problems);
  const body = bodyStart(reading, place, rows);
  return {
    delimiter: reading.delimiter,
    decimal,
    headerLine: header,
    labels,
    unitCells,
    sourceCells,
    rowWidth: reading.width,
    offset: body.start,
    line: body.line,
    time,
    confidence: {
      delimiter: head.confidence,
      decimal: map?.decimal === undefined ? guess.confidence : 1,
      header: map?.headerLine === undefined ? place.confidence : 1,
      time: time.confidence,
    },
    problems,
    rowBytes: rowBytes(rows),
    lastDecimals: lastDecimals(rows, reading.width),
  };
}

function refuseWidth(reading: HeadReading, place: HeaderPlace, limits: Limits): void {
  const header = place.header < 0 ? undefined : reading.records[place.header];
  const columns = Math.max(reading.width, header?.cells.length ?? 0);
  if (columns <= limits.columns) return;
  throw new Fault(
    'too-wide',
    `the table has ${columns} columns; expected at most ${limits.columns}: export fewer channels`,
    header?.line ?? reading.records[place.first]?.line ?? 1,
  );
}

function labelsOf(
  reading: HeadReading,
  place: HeaderPlace,
  rows: readonly HeadRecord[],
  map: ColumnMap | undefined,
): { labels: string[]; header: number } {
  if (place.header >= 0) {
    const record = reading.records[place.header]!;
    const labels = headCells(record, reading.delimiter).map(printable);
    // A delimiter at the end of the line is not one more column, unless values stand in it.
    while (labels.length > 1 && labels[labels.length - 1] === '' && !anySaid(rows, labels.length - 1)) labels.pop();
    return { labels, header: record.line };
  }
  if (map?.headerLine !== undefined) {
    throw new Fault(
      'no-header',
      `line ${map.headerLine} was given as the header but is not a row of the table's head; expected the line of the column names: correct headerLine in the map file`,
      map.headerLine,
    );
  }
  const named = Object.keys(map?.columns ?? {}).some((key) => key[0] === '#') || map?.time?.column?.[0] === '#';
  if (!named) {
    const first = rows[0];
    throw new Fault(
      'no-header',
      `no row of column names was found${first === undefined ? '' : ` above the values`}; expected one: add it, or name the columns by position ("#1", "#2", ...) in a map file`,
      first?.line ?? 1,
    );
  }
  return { labels: Array.from({ length: reading.width }, (_, i) => `#${i + 1}`), header: 0 };
}

function anySaid(rows: readonly HeadRecord[], column: number): boolean {
  return rows.some((row) => (row.cells[column] ?? '') !== '');
}

/** `0,1,12,5` under `t,v`: a comma that is both delimiter and decimal sign cannot be read, and must not be guessed. */
function refuseBareDecimalCommas(
  reading: HeadReading,
  labels: readonly string[],
  rows: readonly HeadRecord[],
  decimal: string,
): void {
  if (reading.delimiter !== ',' || decimal === ',' || labels.length < 2) return;
  const named = labels.filter((label) => label !== '').length;
  const wide =
    rows.length > 1 && (reading.width === named * 2 || (reading.width === named * 2 - 1 && reading.width > 3));
  if (!wide || rows.some((row) => row.cells.some((cell) => cell.includes('.')))) return;
  throw new Fault(
    'decimal-comma-unquoted',
    `rows hold ${reading.width} cells under ${named} names and no decimal point: the comma seems to separate cells and decimals at once; expected ";" or tab between cells, or quoted numbers: export again`,
    rows[0]?.line ?? 1,
  );
}

export function tooFewRows(rows: number, line: number): Fault {
  return new Fault(
    'too-few-rows',
    `${rows === 0 ? 'no row' : 'one row'} of values with a time was found; expected at least 2: record longer or check the export`,
    line,
  );
}

function settleTime(head: Parameters<typeof planTime>[0], options: LayoutOptions, problems: Problem[]): TimePlan {
  const { map, rate } = options;
  if (rate !== undefined && map?.time === undefined) {
    return { column: -1, dateColumn: -1, format: 'rate', scale: 1 / rate, confidence: 1, doubts: [] };
  }
  const plan = planTime(head, map?.time);
  if (plan === null) {
    if (head.rows.length < 2) throw tooFewRows(head.rows.length, head.rows[0]?.line ?? 1);
    throw new Fault(
      'no-time',
      map?.time?.column === undefined
        ? 'no column could be read as the time; expected seconds, milliseconds, a clock time or a date-time: name the column in a map file, or give the rows per second with --rate'
        : 'the column that the map file names as the time cannot be read as one; expected a column of this table with numbers or time stamps: correct time.column or time.format',
    );
  }
  for (const doubt of plan.doubts) problems.push({ code: doubt.code, message: doubt.message, column: plan.column + 1 });
  return plan;
}

function bodyStart(
  reading: HeadReading,
  place: HeaderPlace,
  rows: readonly HeadRecord[],
): { start: number; line: number } {
  const after = Math.max(place.header, place.units, place.sources);
  if (after < 0) {
    const first = rows[0];
    return { start: first?.start ?? 0, line: first?.line ?? 1 };
  }
  const first = reading.records[place.first];
  if (first !== undefined && place.first > after) return { start: first.start, line: first.line };
  const header = reading.records[after]!;
  return { start: header.next, line: reading.records[after + 1]?.line ?? header.line + 1 };
}

function rowBytes(rows: readonly HeadRecord[]): number {
  if (rows.length === 0) return 64;
  let bytes = 0;
  for (const row of rows) bytes += row.next - row.start;
  return Math.max(2, bytes / rows.length);
}

function lastDecimals(rows: readonly HeadRecord[], width: number): number {
  let decimals = -1;
  for (let r = 0; r < rows.length - 1; r++) {
    const row = rows[r]!;
    if (row.cells.length !== width) continue;
    const cell = row.cells[width - 1]!;
    const mark = Math.max(cell.lastIndexOf('.'), cell.lastIndexOf(','));
    const here = mark < 0 ? 0 : cell.length - mark - 1;
    if (decimals >= 0 && here !== decimals) return -1;
    decimals = here;
  }
  return decimals > 0 ? decimals : -1;
}

export function dialectOf(layout: Layout, encoding: Dialect['encoding'], encodingConfidence: number): Dialect {
  return {
    encoding,
    delimiter: layout.delimiter,
    decimal: layout.decimal,
    headerLine: layout.headerLine,
    timeFormat: layout.time.format,
    confidence: { encoding: encodingConfidence, ...layout.confidence },
  };
}
