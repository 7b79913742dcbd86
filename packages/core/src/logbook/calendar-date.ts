import { daysFromCivil } from '../ingest/civil-date.js';

/** Days from 1970-01-01 of an ISO date, or of an ISO date and time with the time of day as a fraction. */
export function dayOf(iso: string): number {
  const [year, month, day] = iso.slice(0, 10).split('-').map(Number) as [number, number, number];
  const [hour = 0, minute = 0, second = 0] = iso.length > 11 ? iso.slice(11).split(':').map(Number.parseFloat) : [];
  return daysFromCivil(year, month, day) + (hour + minute / 60 + second / 3600) / 24;
}

/** ISO date of a day number. Source: H. Hinnant, `civil_from_days`. */
function isoOf(days: number): string {
  const z = days + 719_468;
  const era = Math.floor(z / 146_097);
  const dayOfEra = z - era * 146_097;
  const yearOfEra = Math.floor(
    (dayOfEra - Math.floor(dayOfEra / 1460) + Math.floor(dayOfEra / 36_524) - Math.floor(dayOfEra / 146_096)) / 365,
  );
  const dayOfYear = dayOfEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const m = Math.floor((5 * dayOfYear + 2) / 153);
  const day = dayOfYear - Math.floor((153 * m + 2) / 5) + 1;
  const month = m < 10 ? m + 3 : m - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  return `${String(year).padStart(4, '0')}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
}

/** Days from the first to the second. */
export function daysBetween(from: string, to: string): number {
  return dayOf(to) - dayOf(from);
}

export function addDays(iso: string, days: number): string {
  return isoOf(dayOf(iso) + days);
}

/** The same day of a later month, or its last day where that month is shorter. */
export function addMonths(iso: string, months: number): string {
  const [year, month, day] = iso.slice(0, 10).split('-').map(Number) as [number, number, number];
  const index = year * 12 + month - 1 + months;
  const first = `${String(Math.floor(index / 12)).padStart(4, '0')}-${String((index % 12) + 1).padStart(2, '0')}-01`;
  const next = `${String(Math.floor((index + 1) / 12)).padStart(4, '0')}-${String(((index + 1) % 12) + 1).padStart(2, '0')}-01`;
  return addDays(first, Math.min(day, daysBetween(first, next)) - 1);
}
