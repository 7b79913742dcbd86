import { dayNumber, ordinalDayNumber, weekDayNumber } from './civil-date.js';

/** One time stamp as written. Which of two numbers is the day (03/04/2024) is settled by the whole column. */
export interface Stamp {
  /** `none` = no date part; `fixed` = `day` holds days from 1970-01-01; `ab` = `a`/`b`/`year` with day and month in unknown order. */
  date: 'none' | 'fixed' | 'ab';
  day: number;
  a: number;
  b: number;
  year: number;
  /** `/` dates are usually month first in one country and day first elsewhere; `.` dates are always day first. */
  separator: string;
  /** Seconds of the day (or of the mm:ss clock), NaN = no time part. */
  seconds: number;
  /** Number of clock parts: 0 none, 2 = hh:mm or mm:ss, 3 = hh:mm:ss. */
  parts: number;
  fraction: boolean;
  /** Minutes east of UTC, NaN = not given. */
  zone: number;
  iso: boolean;
}

const MONTHS = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec'];

/**
 * Reads clock times, dates and date-times by hand: one pass, no `Date`, no regular expression. Null when the text is
 * none of them or names a day or time that does not exist (30 February, 25:00). A leap second (…:60) is read as the
 * second that follows. Forms: ISO 8601 (calendar, week, ordinal; basic and extended; comma fraction; 24:00; zone),
 * `YYYY-MM-DD hh:mm:ss`, `DD.MM.YYYY`, `MM/DD/YYYY`, `DD-Mon-YYYY`, `hh:mm:ss.f`, `mm:ss.f`, with AM/PM.
 */
export function parseStamp(text: string): Stamp | null {
  const reader = new Reader(text);
  const stamp: Stamp = {
    date: 'none',
    day: NaN,
    a: 0,
    b: 0,
    year: 0,
    separator: '',
    seconds: NaN,
    parts: 0,
    fraction: false,
    zone: NaN,
    iso: false,
  };
  let timeRequired = false;
  if (looksLikeDate(text)) {
    const basic = readDate(reader, stamp);
    if (basic === null) return null;
    if (reader.done()) return basic ? null : stamp;
    const joint = reader.peek();
    if (joint === 'T' || joint === 't') {
      reader.at++;
      timeRequired = true;
      stamp.iso = stamp.date === 'fixed' && stamp.separator !== '/' && stamp.separator !== '.';
    } else if (joint === ' ' || joint === ',' || joint === '_') {
      while (reader.peek() === ' ' || reader.peek() === ',' || reader.peek() === '_') reader.at++;
    } else return null;
  } else if (text[0] === 'T') reader.at++;
  if (!readClock(reader, stamp, timeRequired)) return null;
  if (!readZone(reader, stamp)) return null;
  return reader.done() ? stamp : null;
}

/** A separator of dates, a month name, a week or a `T` within the first characters: otherwise a clock time. */
function looksLikeDate(text: string): boolean {
  const colon = text.indexOf(':');
  const head = text.slice(0, colon < 0 ? 20 : Math.max(colon - 2, 0));
  for (let i = 1; i < head.length; i++) {
    const c = head[i]!;
    if (c === '-' || c === '/' || c === '.' || c === 'W' || c === 'T' || c === 't') return true;
    if (i > 0 && c === ' ' && head.length > 4) return true;
  }
  return false;
}

/** Null = no date. True = a basic form that needs a time after it to be told from a plain number. */
function readDate(reader: Reader, stamp: Stamp): boolean | null {
  const start = reader.at;
  const first = reader.digits();
  const width = reader.at - start;
  if (width === 0) return null;
  if (width === 8 || width === 7) {
    stamp.day =
      width === 8
        ? dayNumber(Math.floor(first / 10000), Math.floor(first / 100) % 100, first % 100)
        : ordinalDayNumber(Math.floor(first / 1000), first % 1000);
    stamp.date = 'fixed';
    return Number.isNaN(stamp.day) ? null : true;
  }
  if (width === 4) return yearFirst(reader, stamp, first);
  if (width > 2) return null;
  const separator = reader.peek();
  if (separator !== '.' && separator !== '/' && separator !== '-' && separator !== ' ') return null;
  reader.at++;
  const month = reader.month();
  const second = month > 0 ? month : reader.digits(2);
  if (Number.isNaN(second) || reader.peek() !== separator) return null;
  reader.at++;
  const yearAt = reader.at;
  let year = reader.digits(4);
  const yearWidth = reader.at - yearAt;
  if (yearWidth !== 2 && yearWidth !== 4) return null;
  if (yearWidth === 2) year += 2000;
  stamp.separator = separator;
  stamp.year = year;
  stamp.a = first;
  stamp.b = second;
  if (month > 0 || separator === '.' || first > 12 || second > 12) {
    const dayFirst = month > 0 || separator === '.' || second <= 12;
    stamp.day = dayFirst ? dayNumber(year, second, first) : dayNumber(year, first, second);
    if (Number.isNaN(stamp.day)) return null;
    // A day above 12 settles the order for the whole column, so both numbers are kept.
    stamp.date = month > 0 || separator === '.' ? 'fixed' : 'ab';
    return false;
  }
  if (first < 1 || second < 1) return null;
  stamp.date = 'ab';
  return false;
}

function yearFirst(reader: Reader, stamp: Stamp, year: number): boolean | null {
  stamp.date = 'fixed';
  if (reader.peek() === 'W') {
    reader.at++;
    const both = reader.digits(3);
    stamp.day = weekDayNumber(year, Math.floor(both / 10), both % 10);
    stamp.iso = true;
    return Number.isNaN(stamp.day) ? null : false;
  }
  const separator = reader.peek();
  if (separator !== '-' && separator !== '/' && separator !== '.') return null;
  stamp.separator = separator;
  reader.at++;
  if (reader.peek() === 'W' && separator === '-') {
    reader.at++;
    const week = reader.digits(2);
    if (reader.peek() !== '-') return null;
    reader.at++;
    stamp.day = weekDayNumber(year, week, reader.digits(1));
    stamp.iso = true;
    return Number.isNaN(stamp.day) ? null : false;
  }
  const start = reader.at;
  const month = reader.digits(3);
  if (reader.at - start === 3) {
    if (separator !== '-') return null;
    stamp.day = ordinalDayNumber(year, month);
    stamp.iso = true;
    return Number.isNaN(stamp.day) ? null : false;
  }
  if (reader.peek() !== separator) return null;
  reader.at++;
  stamp.day = dayNumber(year, month, reader.digits(2));
  return Number.isNaN(stamp.day) ? null : false;
}

/** Clock part. With `basic` also hhmmss without colons. */
function readClock(reader: Reader, stamp: Stamp, basic: boolean): boolean {
  const start = reader.at;
  const first = reader.digits();
  const width = reader.at - start;
  if (width === 0) return false;
  let parts: number[];
  if (reader.peek() === ':') {
    parts = [first];
    while (reader.peek() === ':' && parts.length < 3) {
      reader.at++;
      const partAt = reader.at;
      const part = reader.digits(2);
      if (reader.at === partAt) return false;
      parts.push(part);
    }
    // hh:mm:ss:mmm is written by some devices: a fourth part of three digits is milliseconds.
    if (reader.peek() === ':' && parts.length === 3) {
      reader.at++;
      const partAt = reader.at;
      const milli = reader.digits(6);
      const length = reader.at - partAt;
      if (length === 0) return false;
      parts[2]! += milli / 10 ** length;
      stamp.fraction = true;
    }
  } else if (basic && width === 6) parts = [Math.floor(first / 10000), Math.floor(first / 100) % 100, first % 100];
  else if (basic && width === 4) parts = [Math.floor(first / 100), first % 100];
  else if (basic && width === 2) parts = [first, 0];
  else return false;
  const whole = parts.slice();
  let fraction = 0;
  if ((reader.peek() === '.' || reader.peek() === ',') && !stamp.fraction) {
    reader.at++;
    const fractionAt = reader.at;
    const number = reader.digits(15);
    const length = reader.at - fractionAt;
    if (length > 0) {
      fraction = number / 10 ** length;
      stamp.fraction = true;
    } else if (reader.peek() !== undefined) return false;
  }
  return clockSeconds(reader, stamp, whole, fraction);
}

function clockSeconds(reader: Reader, stamp: Stamp, parts: readonly number[], fraction: number): boolean {
  stamp.parts = parts.length;
  if (parts.length === 2) {
    const [a, b] = [parts[0]!, parts[1]!];
    // With a date this is hh:mm, otherwise which of hh:mm and mm:ss is settled by the column; stored as mm:ss.
    if (b >= 60) return false;
    const half = reader.meridiem();
    if (stamp.date !== 'none' || half !== 0) {
      const hours = withMeridiem(a, half);
      if (hours < 0 || hours > 24) return false;
      stamp.parts = 3;
      stamp.seconds = hours * 3600 + b * 60 + fraction * 60;
      return stamp.seconds <= 86400;
    }
    stamp.seconds = a * 60 + b + fraction;
    return true;
  }
  const hours = withMeridiem(parts[0]!, reader.meridiem());
  const minutes = parts[1]!;
  const seconds = parts[2]! + fraction;
  if (hours < 0 || minutes >= 60 || seconds >= 61) return false;
  if (seconds >= 60 && minutes !== 59) return false;
  stamp.seconds = hours * 3600 + minutes * 60 + seconds;
  // An elapsed-time clock may run over 24 h; a time of day may not.
  return stamp.date === 'none' ? hours < 1000 : stamp.seconds <= 86400 || (hours === 23 && seconds >= 60);
}

function withMeridiem(hours: number, half: number): number {
  if (half === 0) return hours;
  if (hours < 1 || hours > 12) return -1;
  return (hours % 12) + (half === 2 ? 12 : 0);
}

function readZone(reader: Reader, stamp: Stamp): boolean {
  while (reader.peek() === ' ') reader.at++;
  const sign = reader.peek();
  if (sign === undefined) return true;
  if (sign === 'Z' || sign === 'z') {
    reader.at++;
    stamp.zone = 0;
    return true;
  }
  if (reader.word('utc') || reader.word('gmt')) {
    stamp.zone = 0;
    if (reader.done()) return true;
  }
  const direction = reader.peek();
  if (direction !== '+' && direction !== '-' && direction !== '−') return false;
  reader.at++;
  const start = reader.at;
  const first = reader.digits(4);
  const width = reader.at - start;
  let hours = first;
  let minutes = 0;
  if (width === 4) {
    hours = Math.floor(first / 100);
    minutes = first % 100;
  } else if (width === 2 && reader.peek() === ':') {
    reader.at++;
    minutes = reader.digits(2);
  } else if (width !== 2 && width !== 1) return false;
  if (!(hours <= 18 && minutes < 60)) return false;
  stamp.zone = (direction === '+' ? 1 : -1) * (hours * 60 + minutes);
  return true;
}

class Reader {
  at = 0;
  constructor(private readonly text: string) {}

  peek(): string | undefined {
    return this.text[this.at];
  }

  done(): boolean {
    return this.at >= this.text.length;
  }

  /** Number of up to `most` digits; NaN when none follows. */
  digits(most = 9): number {
    const start = this.at;
    let value = 0;
    while (this.at - start < most) {
      const code = this.text.charCodeAt(this.at);
      if (!(code >= 48 && code <= 57)) break;
      value = value * 10 + code - 48;
      this.at++;
    }
    return this.at === start ? NaN : value;
  }

  /** Month 1..12 of an English name; 0 when none follows. */
  month(): number {
    const index = MONTHS.indexOf(this.text.slice(this.at, this.at + 3).toLowerCase());
    if (index < 0) return 0;
    while (!this.done() && this.text[this.at]!.toLowerCase() !== this.text[this.at]!.toUpperCase()) this.at++;
    return index + 1;
  }

  word(expected: string): boolean {
    if (this.text.slice(this.at, this.at + expected.length).toLowerCase() !== expected) return false;
    this.at += expected.length;
    return true;
  }

  /** 0 none, 1 AM, 2 PM. */
  meridiem(): number {
    const start = this.at;
    while (this.peek() === ' ') this.at++;
    if (this.word('am') || this.word('a.m.')) return 1;
    if (this.word('pm') || this.word('p.m.')) return 2;
    this.at = start;
    return 0;
  }
}
