import type { ColumnMap, TimeFormat } from '../recording/raw.js';
import type { HeadRecord } from './head-record.js';
import { parseNumber } from './number-text.js';
import { parseStamp, type Stamp } from './stamp.js';
import { isCounterName, namedTimeUnit, SECONDS_PER, timeName, timeUnitFromSpacing } from './time-unit.js';

/** How the time is read from the rows. */
export interface TimePlan {
  /** Column of the time, -1 = none (a rate is given). */
  readonly column: number;
  /** Column with the date alone, -1 = none. */
  readonly dateColumn: number;
  readonly format: TimeFormat;
  /** Seconds per unit of a numeric time; 0 = the cells are clock times or dates. */
  readonly scale: number;
  readonly confidence: number;
  readonly doubts: readonly TimeDoubt[];
}

export interface TimeDoubt {
  readonly code: 'time-inferred' | 'time-unit-inferred' | 'time-unit-doubt';
  readonly message: string;
}

export interface HeadColumns {
  readonly labels: readonly string[];
  readonly unitCells: readonly string[];
  readonly rows: readonly HeadRecord[];
  readonly decimal: '.' | ',';
}

/** Column index of a label as written, or `#3` for the third; -1 when there is none. */
function columnIndex(labels: readonly string[], key: string): number {
  const exact = labels.indexOf(key.trim());
  if (exact >= 0) return exact;
  if (key[0] === '#') {
    const number = Number(key.slice(1));
    if (Number.isInteger(number) && number >= 1 && number <= labels.length) return number - 1;
  }
  const lower = key.trim().toLowerCase();
  return labels.findIndex((label) => label.toLowerCase() === lower);
}

interface Behaviour {
  readonly index: number;
  readonly kind: 'number' | 'stamp' | 'date' | 'other';
  readonly name: number;
  readonly values: Float64Array;
  readonly stamps: readonly Stamp[];
  /** Shares of the steps between rows that are >= 0 and > 0, and their typical size. */
  readonly rising: number;
  readonly moving: number;
  readonly step: number;
  readonly first: number;
  readonly regular: boolean;
  readonly whole: boolean;
}

const SAMPLE_ROWS = 3000;

/** Finds the time column by its name and its behaviour. Null when no column can be the time axis. */
export function planTime(head: HeadColumns, map: ColumnMap['time'] | undefined): TimePlan | null {
  const wanted = map?.column === undefined ? -1 : columnIndex(head.labels, map.column);
  if (map?.column !== undefined && wanted < 0) return null;
  const columns = head.labels.flatMap((_, index) =>
    index !== wanted && isPlainNumbers(head, index) ? [] : behaviour(head, index),
  );
  let best: Behaviour | undefined;
  let bestScore = 0;
  for (const column of columns) {
    const score = wanted === column.index ? Infinity : scoreOf(column, head);
    if (score > bestScore) {
      bestScore = score;
      best = column;
    }
  }
  if (best === undefined) return null;
  return planFor(best, columns, head, map?.format, bestScore);
}

function planFor(
  best: Behaviour,
  columns: readonly Behaviour[],
  head: HeadColumns,
  format: TimeFormat | undefined,
  score: number,
): TimePlan | null {
  const index = best.index;
  if (best.kind === 'stamp' || best.kind === 'date') {
    const dated = best.stamps.some((stamp) => stamp.date !== 'none');
    const dateColumn = dated
      ? -1
      : (columns.find((column) => column.kind === 'date' && column.index !== index)?.index ?? -1);
    const iso = best.stamps.filter((stamp) => stamp.iso).length * 2 > best.stamps.length;
    const found: TimeFormat = iso ? 'iso-8601' : dated || dateColumn >= 0 ? 'date-time' : 'clock';
    const confidence = score === Infinity ? 1 : best.name > 0 ? 1 : 0.8;
    return { column: index, dateColumn, format: format ?? found, scale: 0, confidence, doubts: [] };
  }
  return numericPlan(best, head, format, score);
}

function numericPlan(
  best: Behaviour,
  head: HeadColumns,
  format: TimeFormat | undefined,
  score: number,
): TimePlan | null {
  const label = head.labels[best.index]!;
  const doubts: TimeDoubt[] = [];
  let confidence = score === Infinity ? 1 : best.name >= 0.8 ? 1 : best.name > 0 ? 0.8 : 0.5;
  if (best.name === 0 && score !== Infinity) {
    doubts.push({
      code: 'time-inferred',
      message: `column ${best.index + 1} was taken as the time because it rises in regular steps, its name does not say so; name the time column in the map file if this is wrong`,
    });
  }
  let settled = format ?? namedTimeUnit(label, head.unitCells[best.index] ?? '');
  if (settled === undefined) {
    const epoch = epochFormat(best.first);
    const guess = epoch === undefined ? timeUnitFromSpacing(best.step, best.first) : { format: epoch, doubt: false };
    if (guess === null) return null;
    settled = guess.format;
    if (guess.doubt) {
      confidence = Math.min(confidence, 0.5);
      doubts.push({
        code: 'time-unit-doubt',
        message: `the time column names no unit and its steps fit more than one; ${settled} were taken; state time.format in the map file`,
      });
    } else if (epoch === undefined) {
      confidence = Math.min(confidence, 0.8);
      doubts.push({
        code: 'time-unit-inferred',
        message: `the time column names no unit; ${settled} were inferred from the spacing of the rows; state time.format in the map file if this is wrong`,
      });
    }
  } else if (format === undefined) {
    const epoch = epochFormat(best.first);
    if (epoch === 'epoch-seconds' && settled === 'seconds') settled = epoch;
    if (epoch === 'epoch-milliseconds' && settled === 'milliseconds') settled = epoch;
  }
  const scale = numericScale(settled);
  if (scale === 0) return null;
  return { column: best.index, dateColumn: -1, format: settled, scale, confidence, doubts };
}

function numericScale(format: TimeFormat): number {
  if (format === 'epoch-seconds') return 1;
  if (format === 'epoch-milliseconds') return 1e-3;
  if (format === 'day-serial') return 86_400;
  return Object.hasOwn(SECONDS_PER, format) ? SECONDS_PER[format as keyof typeof SECONDS_PER] : 0;
}

/** Seconds or milliseconds since 1970 between the years 2000 and 2100. */
function epochFormat(first: number): 'epoch-seconds' | 'epoch-milliseconds' | 'microseconds' | undefined {
  if (first >= 9.4e8 && first < 4.2e9) return 'epoch-seconds';
  if (first >= 9.4e11 && first < 4.2e12) return 'epoch-milliseconds';
  if (first >= 9.4e14 && first < 4.2e15) return 'microseconds';
  return undefined;
}

function scoreOf(column: Behaviour, head: HeadColumns): number {
  const coarse = column.moving < 0.9 ? 0.7 : 0;
  const backward = column.rising < 0.98 ? 0.5 : 0;
  const position = column.index === 0 ? 0.2 : 0;
  if (column.kind === 'stamp') {
    if (column.rising < 0.9 || column.step === 0) return 0;
    const dated = column.stamps.some((stamp) => stamp.date !== 'none');
    const short = column.stamps.every((stamp) => stamp.parts === 2);
    const base = dated ? 3 : short ? 1.5 : 2.5;
    return base + column.name + position - coarse - backward;
  }
  if (column.kind !== 'number' || column.rising < 0.9) return 0;
  const label = head.labels[column.index]!;
  // Run time that stands at 0 before the engine starts: taken when name and unit leave no doubt and nothing moves better.
  if (column.step === 0) {
    return column.name >= 0.8 && namedTimeUnit(label, head.unitCells[column.index] ?? '') !== undefined ? 1 : 0;
  }
  if (column.name > 0) {
    const unit = namedTimeUnit(label, head.unitCells[column.index] ?? '') === undefined ? 0 : 0.5;
    return 2 + column.name * 1.5 + unit + position - coarse - backward;
  }
  if (column.index !== 0 || isCounterName(label) || column.rising < 1 || !column.regular) return 0;
  // A column of 1, 2, 3 … is as well a row counter.
  return column.whole && column.step === 1 ? 0 : 1;
}

/** Cells that tell whether a column without a name of time holds stamps. */
const PROBED = 24;

/** A column of numbers that neither its name nor its place makes a time: no score, so its cells need not be weighed. */
function isPlainNumbers(head: HeadColumns, index: number): boolean {
  if (index === 0 || timeName(head.labels[index]!) > 0) return false;
  const stride = Math.max(1, Math.floor(head.rows.length / PROBED));
  let said = 0;
  for (let r = 0; r < head.rows.length; r += stride) {
    const cell = head.rows[r]!.cells[index] ?? '';
    if (cell === '') continue;
    if (Number.isNaN(parseNumber(cell, head.decimal))) return false;
    said++;
  }
  return said > 0;
}

function behaviour(head: HeadColumns, index: number): Behaviour {
  const rows = Math.min(head.rows.length, SAMPLE_ROWS);
  const values: number[] = [];
  const stamps: Stamp[] = [];
  let said = 0;
  let dates = 0;
  let numbers = 0;
  let whole = true;
  for (let r = 0; r < rows; r++) {
    const cell = head.rows[r]!.cells[index] ?? '';
    if (cell === '') continue;
    said++;
    const number = parseNumber(cell, head.decimal);
    if (!Number.isNaN(number)) {
      numbers++;
      values.push(number);
      if (!Number.isInteger(number)) whole = false;
      continue;
    }
    const stamp = cell.length < 48 ? parseStamp(cell) : null;
    if (stamp === null) continue;
    stamps.push(stamp);
    if (stamp.parts === 0) dates++;
    values.push(provisionalSeconds(stamp));
  }
  const kind =
    said === 0
      ? 'other'
      : numbers >= said * 0.8
        ? 'number'
        : dates >= said * 0.8
          ? 'date'
          : stamps.length >= said * 0.8
            ? 'stamp'
            : 'other';
  return {
    index,
    kind,
    name: timeName(head.labels[index]!),
    values: Float64Array.from(values),
    stamps,
    ...steps(values),
    first: values[0] ?? NaN,
    whole,
  };
}

/** Seconds that order stamps of one column; day before month is assumed where it is open. */
function provisionalSeconds(stamp: Stamp): number {
  const day = stamp.date === 'fixed' ? stamp.day : stamp.date === 'ab' ? stamp.year * 372 + stamp.b * 31 + stamp.a : 0;
  return day * 86_400 + (Number.isNaN(stamp.seconds) ? 0 : stamp.seconds);
}

function steps(values: readonly number[]): { rising: number; moving: number; step: number; regular: boolean } {
  if (values.length < 2) return { rising: 1, moving: values.length, step: values.length > 0 ? NaN : 0, regular: false };
  const positive: number[] = [];
  let rising = 0;
  for (let i = 1; i < values.length; i++) {
    const step = values[i]! - values[i - 1]!;
    if (step >= 0) rising++;
    if (step > 0) positive.push(step);
  }
  const count = values.length - 1;
  positive.sort((a, b) => a - b);
  const median = positive[positive.length >> 1] ?? 0;
  const near = positive.filter((step) => Math.abs(step - median) <= 0.02 * median).length;
  return {
    rising: rising / count,
    moving: positive.length / count,
    // Repeated stamps of a coarse clock: the rows come more often than the clock ticks.
    step: median * Math.max(positive.length / count, 1e-3),
    regular: positive.length === count && near >= 0.8 * count,
  };
}
