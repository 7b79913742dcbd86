/**
 * Days from 1970-01-01 of a date of the proleptic Gregorian calendar.
 * Source: Howard Hinnant, "chrono-Compatible Low-Level Date Algorithms", `days_from_civil` (howardhinnant.github.io).
 */
export function daysFromCivil(year: number, month: number, day: number): number {
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const yearOfEra = y - era * 400;
  const dayOfYear = Math.floor((153 * (month > 2 ? month - 3 : month + 9) + 2) / 5) + day - 1;
  const dayOfEra = yearOfEra * 365 + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100) + dayOfYear;
  return era * 146097 + dayOfEra - 719468;
}

function isLeapYear(year: number): boolean {
  return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
}

const MONTH_DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** Days from 1970-01-01, NaN when there is no such day (30 February). */
export function dayNumber(year: number, month: number, day: number): number {
  if (month < 1 || month > 12 || day < 1) return NaN;
  const length = month === 2 && isLeapYear(year) ? 29 : MONTH_DAYS[month - 1]!;
  return day > length ? NaN : daysFromCivil(year, month, day);
}

/** ISO 8601 ordinal date; NaN when the year has no such day. */
export function ordinalDayNumber(year: number, dayOfYear: number): number {
  if (dayOfYear < 1 || dayOfYear > (isLeapYear(year) ? 366 : 365)) return NaN;
  return daysFromCivil(year, 1, 1) + dayOfYear - 1;
}

/** ISO 8601 week date (week 1 holds 4 January, weeks begin on Monday); NaN when the year has no such week. */
export function weekDayNumber(year: number, week: number, weekday: number): number {
  if (weekday < 1 || weekday > 7 || week < 1 || week > 53) return NaN;
  const fourth = daysFromCivil(year, 1, 4);
  // 1970-01-01 was a Thursday (4).
  const isoWeekday = ((((fourth + 3) % 7) + 7) % 7) + 1;
  const monday = fourth - isoWeekday + 1;
  const day = monday + (week - 1) * 7 + weekday - 1;
  if (week === 53) {
    const next = daysFromCivil(year + 1, 1, 4);
    const nextMonday = next - ((((next + 3) % 7) + 7) % 7);
    if (monday + 52 * 7 >= nextMonday) return NaN;
  }
  return day;
}
