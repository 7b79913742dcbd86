import { dayOf as days } from '../../logbook/calendar-date.js';
import type { Course } from '../../logbook/car-report.js';
import { number, quantity, unitSign } from '../format.js';
import { escaped } from '../page-shell.js';
import { ticks } from './axis.js';

const WIDTH = 720;
const LEFT = 56;
const RIGHT = 12;
const TOP = 18;
const HEIGHT = 150;
const FOOT = 22;

/**
 * The course of one measure over the dates of its drives: values with the width of two standard errors, the 95 % band of the
 * fitted course and of where it goes, the limit, and the work that began a new baseline. One image with a text; the numbers
 * stand beside it.
 */
export function courseSvg(course: Course): string[] {
  const { points, band, limit, unit, baselines, name } = course;
  if (points.length === 0) return [];
  const at = points.map((point) => days(point.at));
  const coming = comingOf(course, at[at.length - 1]! - at[0]!);
  const [from, to] = [at[0]!, Math.max(at[at.length - 1]!, at[0]! + 30, ...coming.map((each) => days(each.at)))];
  const x = (day: number): number => LEFT + 8 + ((WIDTH - LEFT - RIGHT - 16) * (day - from)) / (to - from);
  const [low, high] = rangeOf(course, coming);
  const y = (value: number): number => TOP + (HEIGHT * (high - value)) / (high - low);
  const inside = (value: number): number => Math.min(TOP + HEIGHT, Math.max(TOP, y(value)));
  const sign = unitSign(unit);
  const out = [
    `<svg class="still" viewBox="0 0 ${WIDTH} ${TOP + HEIGHT + FOOT}" role="img" aria-label="${escaped(spokenCourse(course))}">`,
    `<text class="unit" x="${LEFT}" y="${TOP - 6}">${escaped(sign === '' ? name : `${name}, ${sign}`)}</text>`,
  ];
  for (const value of ticks(low, high, 5))
    out.push(
      `<path class="grid" d="M${LEFT} ${fixed(y(value))}H${WIDTH - RIGHT}"/>`,
      `<text x="${LEFT - 6}" y="${fixed(y(value) + 4)}" text-anchor="end">${escaped(number(value))}</text>`,
    );
  for (const [day, word] of monthTicks(points[0]!.at, (coming.at(-1) ?? points[points.length - 1]!).at))
    if (day >= from && day <= to)
      out.push(
        `<path class="grid" d="M${fixed(x(day))} ${TOP}V${TOP + HEIGHT}"/>`,
        `<text x="${fixed(x(day))}" y="${TOP + HEIGHT + 15}" text-anchor="middle">${word}</text>`,
      );
  const marked = band.filter((each) => days(each.at) >= from - 1 && days(each.at) <= to + 1);
  for (const [stretch, word] of [
    [marked, ''],
    [coming, ' ahead'],
  ] as const) {
    if (stretch.length < 2) continue;
    const line = (of: (each: Course['band'][number]) => number): string[] =>
      stretch.map((each) => `${fixed(x(days(each.at)))} ${fixed(inside(of(each)))}`);
    const edges = [...line(({ high: upper }) => upper), ...line(({ low: lower }) => lower).reverse()];
    out.push(`<path class="band${word}" d="M${edges.join('L')}Z"/>`);
    out.push(`<path class="t0${word}" d="M${line(({ value }) => value).join('L')}"/>`);
  }
  for (const value of limitsOf(course))
    if (value >= low && value <= high)
      out.push(
        `<path class="limit" d="M${LEFT} ${fixed(y(value))}H${WIDTH - RIGHT}"/>`,
        // What lies ahead meets it on the right.
        `<text class="limit" x="${coming.length > 1 ? LEFT + 4 : WIDTH - RIGHT - 4}" y="${fixed(y(value) - 4)}" text-anchor="${coming.length > 1 ? 'start' : 'end'}">limit ${escaped(limit!.name)} ${number(value)}</text>`,
      );
  for (const { date, kind } of baselines) {
    const day = days(date);
    if (day < from || day > to) continue;
    out.push(
      `<path class="t5" d="M${fixed(x(day))} ${TOP}V${TOP + HEIGHT}"/>`,
      `<text x="${fixed(x(day) + 4)}" y="${TOP + 11}">${kind}</text>`,
    );
  }
  points.forEach(({ value, standardError }, i) => {
    const cx = x(at[i]!);
    if (standardError !== null)
      out.push(
        `<path class="t0 solid" d="M${fixed(cx)} ${fixed(inside(value - 2 * standardError))}V${fixed(inside(value + 2 * standardError))}"/>`,
      );
    out.push(`<circle class="point" cx="${fixed(cx)}" cy="${fixed(y(value))}" r="3"/>`);
  });
  out.push('</svg>');
  return out;
}

/** What is drawn of what lies ahead: half as long again as what was seen, one step at least. */
function comingOf({ ahead }: Course, seen: number): Course['ahead'] {
  const start = ahead[0];
  if (start === undefined) return [];
  return ahead.filter((each, i) => i < 2 || days(each.at) - days(start.at) <= seen / 2);
}

/** The limit, on both sides where both are worse. */
function limitsOf({ limit, worse }: Course): number[] {
  if (limit === null) return [];
  return worse === 'either' ? [limit.value, -limit.value] : [limit.value];
}

/** Values and a limit that they come near to, with a little air. Errors far wider than the course do not flatten it. */
function rangeOf(course: Course, coming: Course['ahead']): [number, number] {
  const values = [...course.points, ...course.band, ...coming].map(({ value }) => value);
  let low = Math.min(...values);
  let high = Math.max(...values);
  const reach = Math.max(high - low, 1e-9);
  for (const value of limitsOf(course)) {
    if (value > high && value - high <= 2 * reach) high = value;
    if (value < low && low - value <= 2 * reach) low = value;
  }
  const air = high > low ? 0.08 * (high - low) : Math.max(Math.abs(high) * 0.05, 1e-6);
  return [low - air, high + air];
}

/** First days of months, at most eight, and what stands there. */
function monthTicks(first: string, last: string): [number, string][] {
  const index = (iso: string): number => Number(iso.slice(0, 4)) * 12 + Number(iso.slice(5, 7)) - 1;
  const [from, to] = [index(first), index(last) + 1];
  const step = [1, 2, 3, 6, 12, 24, 60, 120].find((each) => (to - from) / each <= 8) ?? 240;
  const found: [number, string][] = [];
  for (let k = Math.ceil(from / step) * step; k <= to; k += step) {
    const word = `${Math.floor(k / 12)}-${String((k % 12) + 1).padStart(2, '0')}`;
    found.push([days(`${word}-01`), word]);
  }
  return found;
}

function spokenCourse({ name, points, unit, limit }: Course): string {
  const first = points[0]!;
  const last = points[points.length - 1]!;
  return `${name}: ${quantity(first.value, unit, 3)} on ${first.at.slice(0, 10)}, ${quantity(last.value, unit, 3)} on ${last.at.slice(0, 10)}, ${points.length} drives${limit === null ? '' : `; limit ${quantity(limit.value, unit)}`}`;
}

function fixed(value: number): string {
  return String(Math.round(value * 10) / 10);
}
