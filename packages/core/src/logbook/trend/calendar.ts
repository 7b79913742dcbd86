import { parseStamp } from '../../ingest/stamp.js';
import { addDays } from '../calendar-date.js';

/** Days from 1970-01-01 of an ISO 8601 date or date-time, the zone taken off; NaN when it is none. */
export function dayOf(text: string): number {
  const stamp = parseStamp(text);
  if (stamp === null || stamp.date !== 'fixed') return Number.NaN;
  const seconds = Number.isNaN(stamp.seconds) ? 0 : stamp.seconds;
  const zone = Number.isNaN(stamp.zone) ? 0 : stamp.zone;
  return stamp.day + (seconds - zone * 60) / 86400;
}

/** True when the text tells a time of day, not only a date. */
export function hasClock(text: string): boolean {
  const stamp = parseStamp(text);
  return stamp !== null && !Number.isNaN(stamp.seconds);
}

/** ISO 8601 date of days from 1970-01-01. */
export function dateOf(day: number): string {
  return addDays('1970-01-01', Math.floor(day));
}

/** Days of a mean Gregorian year. */
export const YEAR = 365.2425;
