import type { Problem } from '../recording/problem.js';
import type { AxisInput } from './axis.js';
import { kept, type TableBuilder } from './builder.js';
import { dayNumber } from './civil-date.js';
import type { StampColumn } from './stamp-column.js';

/** Seconds from 1970-01-01 that a numeric time is taken for a date: autumn of 1999 to the year 2103. */
const DATED = { from: 9.4e8, to: 4.2e9 } as const;

/**
 * Seconds from 1970-01-01 to the first row by the recording's own stamps, in the zone that they are written in; undefined
 * when they hold no date.
 */
export function startOf(builder: TableBuilder): number | undefined {
  const { time } = builder.layout;
  if (builder.stamps !== undefined) {
    const dated = builder.dates ?? builder.stamps;
    const days = dayValues(dated, builder.rows, time.column, [], 0);
    if (days === undefined) return undefined;
    const start = firstNumber(days) * 86_400 + firstNumber(builder.stamps.seconds.subarray(0, builder.rows));
    return Number.isFinite(start) ? start : undefined;
  }
  if (time.column < 0) return undefined;
  const first = firstNumber(builder.values[time.column]!.subarray(0, builder.rows));
  // Day serials count from the last day of 1899; 25569 of them is 1970-01-01.
  const start = time.format === 'day-serial' ? (first - 25_569) * 86_400 : first * time.scale;
  return start >= DATED.from && start < DATED.to ? start : undefined;
}

/** Seconds of each row as the file gives them, before any repair; NaN = the row has no time. */
export function timeValues(builder: TableBuilder, problems: Problem[]): AxisInput {
  const { layout, rows } = builder;
  const { time } = layout;
  const { lines } = builder;
  if (time.column < 0) {
    const seconds = new Float64Array(rows);
    // Division, not multiplication by the period: 3 / 10 is the double nearest 0.3.
    const rate = 1 / time.scale;
    for (let i = 0; i < rows; i++) seconds[i] = i / rate;
    return { seconds, origin: 0, lines, period: 0, local: false, scale: 0, column: -1 };
  }
  if (builder.stamps === undefined) {
    const values = kept(builder.values[time.column]!, rows);
    return {
      ...numericSeconds(values, time.scale),
      lines,
      period: 0,
      local: false,
      scale: time.scale,
      column: time.column,
    };
  }
  const { stamps, dates } = builder;
  const days = dayValues(stamps, rows, time.column, problems, layout.line);
  const dated = dates === undefined ? days : dayValues(dates, rows, time.dateColumn, problems, layout.line);
  const perPart = shortClockScale(stamps, rows, time.column, problems, layout.line);
  const origin = dated === undefined ? 0 : firstNumber(dated);
  const seconds = new Float64Array(rows);
  for (let i = 0; i < rows; i++) {
    const day = dated === undefined ? 0 : dated[i]! - origin;
    seconds[i] = day * 86_400 + stamps.seconds[i]! * perPart;
  }
  const local = dated !== undefined && stamps.zoned === 0;
  const period = dated !== undefined ? 0 : stamps.twoParts * 2 > rows ? 3600 : 86_400;
  return { seconds, origin: 0, lines, period, local, scale: 0, column: time.column };
}

function firstNumber(values: Float64Array): number {
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i])) return values[i]!;
  return 0;
}

/** Differences to the first value are taken before scaling: epoch milliseconds keep their last digit so. */
function numericSeconds(values: Float64Array, scale: number): { seconds: Float64Array; origin: number } {
  const first = firstNumber(values);
  const origin = Math.abs(first) > 1e6 ? first : 0;
  // Division by a whole number, not multiplication by its inverse: 123 / 1000 is the double nearest 0.123.
  // Epoch seconds and day serials hold about a microsecond: what stands behind it is rounding of the double.
  const fine = scale >= 86_400 ? 1e5 : origin !== 0 ? 1e6 : 0;
  if (scale === 1 && origin === 0) return { seconds: values, origin: 0 };
  const perSecond = Math.round(1 / scale);
  const seconds = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) {
    const value = values[i]! - origin;
    seconds[i] = scale < 1 ? value / perSecond : fine === 0 ? value * scale : Math.round(value * scale * fine) / fine;
  }
  return { seconds, origin: origin * scale };
}

/** Days of each row; undefined when the column has no dates. Settles whether 03/04 is 3 April or 4 March. */
function dayValues(
  stamps: StampColumn,
  rows: number,
  column: number,
  problems: Problem[],
  line: number,
): Float64Array | undefined {
  let any = false;
  let open = false;
  let firstAbove = false;
  let secondAbove = false;
  for (let i = 0; i < rows; i++) {
    const ab = stamps.ab[i]!;
    if (!Number.isNaN(stamps.day[i])) any = true;
    if (Number.isNaN(ab)) continue;
    any = true;
    open = true;
    if (Math.floor(ab / 100) % 100 > 12) firstAbove = true;
    if (ab % 100 > 12) secondAbove = true;
  }
  if (!any) return undefined;
  const days = stamps.day.slice(0, rows);
  if (!open) return days;
  const monthFirst = secondAbove || (!firstAbove && stamps.slashes > 0 && !risesDayFirst(stamps, rows));
  if (firstAbove === secondAbove) {
    problems.push({
      code: 'date-order-doubt',
      message: `the dates read as day-month and as month-day; ${monthFirst ? 'month-day' : 'day-month'} was taken, which matters only if the recording runs over midnight: export with ISO 8601 dates`,
      line,
      column: column + 1,
    });
  }
  for (let i = 0; i < rows; i++) {
    const ab = stamps.ab[i]!;
    if (!Number.isNaN(ab)) days[i] = dayOf(ab, monthFirst);
  }
  return days;
}

function dayOf(ab: number, monthFirst: boolean): number {
  const first = Math.floor(ab / 100) % 100;
  const second = ab % 100;
  const year = Math.floor(ab / 10_000);
  return monthFirst ? dayNumber(year, first, second) : dayNumber(year, second, first);
}

/** Day-first dates rise by at most one day a row; month-first ones read so would jump by months. */
function risesDayFirst(stamps: StampColumn, rows: number): boolean {
  for (let i = 1; i < rows; i++) {
    const [a, b] = [stamps.ab[i - 1]!, stamps.ab[i]!];
    if (Number.isNaN(a) || Number.isNaN(b) || a === b) continue;
    const step = dayOf(b, false) - dayOf(a, false);
    if (!(step >= 0 && step <= 1)) return false;
  }
  return true;
}

/** `12:34` is mm:ss with a fraction or when it passes 24 in front; otherwise the reading is a doubt. */
function shortClockScale(stamps: StampColumn, rows: number, column: number, problems: Problem[], line: number): number {
  if (stamps.twoParts === 0 || stamps.twoParts < rows * 0.5 || stamps.fractions > 0) return 1;
  let most = 0;
  for (let i = 0; i < rows; i++) if (stamps.seconds[i]! > most) most = stamps.seconds[i]!;
  if (most < 24 * 60) {
    problems.push({
      code: 'time-form-doubt',
      message:
        'the clock has two parts; minutes and seconds were taken, hours and minutes would read as well: export the time with seconds',
      line,
      column: column + 1,
    });
  }
  return 1;
}
