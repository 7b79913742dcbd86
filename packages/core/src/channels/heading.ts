import type { Unit } from '../units/index.js';
import { findUnits, mendSigns } from '../units/spelling.js';
import { LONGEST_LABEL } from './tokens.js';

/** One way of reading a heading: which text names the channel and which part is the unit. */
export interface HeadingReading {
  readonly text: string;
  /** Units that the unit text can mean; empty = no unit named or not known. */
  readonly units: readonly Unit[];
  /** Text taken for the unit, as written. */
  readonly unitText: string;
  /** The unit stands in brackets or in a cell of its own, not merely behind the words. */
  readonly marked: boolean;
}

const CLOSING: Readonly<Record<string, string>> = { '(': ')', '[': ']', '{': '}' };

interface Split {
  readonly outside: string;
  readonly groups: readonly string[];
}

/** Text outside brackets and the bracketed groups; linear, unbalanced brackets are read as blanks. */
function splitBrackets(label: string): Split {
  let outside = '';
  const groups: string[] = [];
  for (let i = 0; i < label.length; i++) {
    const close = CLOSING[label[i]!];
    if (close === undefined) {
      outside += label[i];
      continue;
    }
    const end = label.indexOf(close, i + 1);
    if (end < 0) {
      outside += ' ';
      continue;
    }
    groups.push(label.slice(i + 1, end).trim());
    outside += ' ';
    i = end;
  }
  return { outside: outside.trim(), groups };
}

/** A bracket that only says how a time is written: `hh:mm:ss`, `yyyy-mm-dd`. */
function isTimeFormat(text: string): boolean {
  const lower = text.toLowerCase();
  return (
    lower.includes('hh') ||
    lower.includes('mm:ss') ||
    lower.includes('yy') ||
    lower.includes('iso') ||
    lower === 'h:m:s'
  );
}

/** Unit-like ends of a text without brackets: behind a comma, the last chunk, the last two chunks. */
function trailing(text: string): HeadingReading[] {
  const out: HeadingReading[] = [];
  const add = (head: string, unitText: string): void => {
    if (unitText.trim() === '') return;
    const units = findUnits(unitText).filter((unit) => unit.quantity !== 'number');
    if (units.length > 0) out.push({ text: head.trim(), units, unitText: unitText.trim(), marked: false });
  };
  const comma = Math.max(text.lastIndexOf(','), text.lastIndexOf(';'), text.lastIndexOf(' in '));
  if (comma > 0) add(text.slice(0, comma), text.slice(comma).replace(/^(?:[,;]| in )/, ''));
  const parts = text.split(/[\s_]+/).filter((part) => part !== '');
  const n = parts.length;
  if (n >= 3) add(parts.slice(0, n - 2).join(' '), parts.slice(n - 2).join(' '));
  if (n >= 2) add(parts.slice(0, n - 1).join(' '), parts[n - 1]!);
  // camelCase: speedKmh, coolantTempC, boost-psi
  const last = parts[n - 1] ?? '';
  for (let i = last.length - 1; i > 0 && last.length - i <= 6; i--) {
    const c = last[i]!;
    const before = last[i - 1]!;
    const hump = c !== c.toLowerCase() && before === before.toLowerCase();
    if (!hump && before !== '-' && before !== '.' && before !== '/') continue;
    add([...parts.slice(0, n - 1), last.slice(0, i)].join(' '), last.slice(i));
  }
  // the whole heading is a unit: "rpm", "km/h"
  add('', text);
  return out;
}

/**
 * All readings of a heading, the most literal first. A `unitCell` wins over what the label says; `()` and `[-]` are no
 * unit on their own.
 */
export function readHeading(
  label: string,
  unitCell = '',
): { readonly readings: HeadingReading[]; readonly timeFormat: boolean } {
  let mended = mendSigns(label.slice(0, LONGEST_LABEL)).trim();
  const equals = mended.indexOf(' = ');
  const { outside: full, groups } = splitBrackets(mended);
  let outside = full;
  if (equals > 0) {
    mended = mended.slice(0, equals);
    outside = splitBrackets(mended).outside; // "n = formula [rpm]": the formula names no channel
  }
  const readings: HeadingReading[] = [];
  const cell = mendSigns(unitCell.slice(0, 60))
    .trim()
    .replace(/^[[({]\s*/, '')
    .replace(/\s*[\])}]$/, '');
  let timeFormat = isTimeFormat(cell);
  const words = groups.filter((group) => group !== '' && !isTimeFormat(group));
  if (groups.some((group) => isTimeFormat(group))) timeFormat = true;
  if (equals > 0) words.splice(0, words.length, ...words.filter((group) => findUnits(group).length > 0));
  const all = [outside, ...words].join(' ').trim();
  if (cell !== '') {
    const units = findUnits(cell);
    readings.push({ text: all, units, unitText: cell, marked: true });
    const inLabel = words.findIndex((group) => findUnits(group).length > 0);
    if (inLabel >= 0) {
      readings.push({
        text: [outside, ...words.filter((_g, i) => i !== inLabel)].join(' '),
        units,
        unitText: cell,
        marked: true,
      });
    }
    for (const reading of trailing(outside)) readings.push({ ...reading, units, unitText: cell, marked: true });
    return { readings, timeFormat };
  }
  for (let i = words.length - 1; i >= 0; i--) {
    const group = words[i]!;
    const units = /^\d+$/.test(group) && !label.includes(`[${group}]`) ? [] : findUnits(group);
    if (units.length === 0) continue;
    const text = [outside, ...words.filter((_g, k) => k !== i)].join(' ').trim();
    readings.push({ text, units, unitText: group, marked: true });
  }
  // A bracket that can only be a unit is never read as a word; "(A)" may be sensor A.
  const certainUnit = words.some(
    (group) => group.length > 1 && findUnits(group).some((unit) => unit.quantity !== 'number'),
  );
  const signOnly = words.some((group) => group === '°' || group === '%');
  if (!certainUnit && !signOnly) readings.push({ text: all, units: [], unitText: '', marked: false });
  if (words.length === 0 || readings.length === 1) readings.push(...trailing(all));
  return { readings, timeFormat };
}
