import { gzipSync } from 'node:zlib';
import type { Dialect } from './dialect.js';
import { labelOf } from './labels.js';
import type { Recorded, RecordedColumn } from './record.js';
import { familyOf, unitsOf, type WrittenUnit, written } from './units.js';

export interface WrittenColumn {
  /** Channel id of the simulator. */
  readonly id: string;
  /** Name cell as written. */
  readonly label: string;
  /** Unit cell as written, '' when the unit stands in the name or nowhere. */
  readonly unitCell: string;
  readonly unit: string;
}
export interface WrittenFile {
  readonly bytes: Uint8Array;
  readonly columns: readonly WrittenColumn[];
  readonly timeLabel: string;
  readonly rows: number;
}

const SELECTOR_LETTERS = ['P', 'R', 'N', 'D', 'M'];

/** Writes a recording in a dialect. */
export function toCsv(recorded: Recorded, dialect: Dialect): WrittenFile {
  const { delimiter } = dialect;
  const columns = recorded.columns.map((c) => headOf(c.id, dialect));
  const timeLabel = timeName(dialect);
  const lines: string[] = [...dialect.preamble];
  const cell = (text: string) =>
    dialect.quotedHeader || text.includes(delimiter) || text.includes('"') ? `"${text.replaceAll('"', '""')}"` : text;
  const tail = dialect.trailingDelimiter ? delimiter : '';
  lines.push([timeLabel.name, ...columns.map((c) => c.label)].map(cell).join(delimiter) + tail);
  if (dialect.unitPlace === 'row')
    lines.push([timeLabel.unit, ...columns.map((c) => c.unitCell)].map(cell).join(delimiter) + tail);
  if (dialect.sourceRow)
    lines.push(['', ...columns.map((_, i) => (i % 3 === 0 ? 'engine' : 'module'))].map(cell).join(delimiter) + tail);
  const writers = recorded.columns.map((c) => cellWriter(c, dialect));
  const rows = recorded.time.length;
  const count = writers.length;
  const remark = dialect.commentMark ? Math.floor(rows / 2) : -1;
  for (let i = 0; i < rows; i++) {
    let line = timeText(recorded.time[i]! - recorded.time[0]!, dialect);
    for (let c = 0; c < count; c++) line += delimiter + writers[c]!(i);
    lines.push(line + tail);
    if (i === remark) lines.push(`${dialect.commentMark} remark`);
  }
  let text = lines.join(dialect.lineEnd);
  if (dialect.cutLastRow) text = text.slice(0, text.length - Math.floor(lines[lines.length - 1]!.length * 0.4));
  else text += dialect.lineEnd;
  let bytes = encode(text, dialect.encoding);
  if (dialect.gzip) bytes = gzipSync(bytes);
  return {
    bytes,
    columns: columns.map((c, i) => ({
      id: recorded.columns[i]!.id,
      label: c.label,
      unitCell: c.unitCell,
      unit: c.unit.id,
    })),
    timeLabel: timeLabel.name,
    rows,
  };
}

function unitFor(id: string, dialect: Dialect): WrittenUnit {
  const choices = unitsOf(id);
  const wanted = dialect.units.get(id);
  if (wanted === undefined) return choices[0]!;
  const unit = choices.find((x) => x.id === wanted);
  if (!unit) throw new Error(`unit '${wanted}' for '${id}': expected one of ${choices.map((x) => x.id).join(', ')}`);
  return unit;
}

function headOf(id: string, dialect: Dialect): { label: string; unitCell: string; unit: WrittenUnit } {
  const unit = unitFor(id, dialect);
  const spelled = spell(unit, dialect);
  let name = styled(labelOf(id), dialect.naming);
  if (dialect.unitPlace === 'header' && spelled !== '') {
    const [open, close] = dialect.brackets;
    name +=
      dialect.naming === 'long' || dialect.naming === 'camel'
        ? ` ${open}${spelled}${close}`
        : `${open}${spelled}${close}`;
  }
  return { label: name, unitCell: dialect.unitPlace === 'row' ? spelled : '', unit };
}

function spell(unit: WrittenUnit, dialect: Dialect): string {
  return unit.spellings[Math.min(dialect.spelling, unit.spellings.length - 1)]!;
}

function styled(label: readonly [string, string], naming: Dialect['naming']): string {
  const [long, short] = label;
  const words = long.replaceAll('-', ' ').split(' ');
  switch (naming) {
    case 'long':
      return long;
    case 'short':
      return short;
    case 'snake':
      return words.map((w) => w.toLowerCase()).join('_');
    case 'upper':
      return words.map((w) => w.toUpperCase()).join('_');
    case 'camel':
      return words.map((w, i) => (i === 0 ? w.toLowerCase() : w[0]!.toUpperCase() + w.slice(1).toLowerCase())).join('');
  }
}

function timeName(dialect: Dialect): { name: string; unit: string } {
  const base = { long: 'Time', short: 'TIME', snake: 'time', upper: 'TIME', camel: 'time' }[dialect.naming];
  const unit = { seconds: 's', milliseconds: 'ms', microseconds: 'us' }[dialect.time as string] ?? '';
  const [open, close] = dialect.brackets;
  return { name: dialect.unitPlace === 'header' && unit ? `${base} ${open}${unit}${close}` : base, unit };
}

const two = (n: number) => String(n).padStart(2, '0');

function timeText(t: number, d: Dialect): string {
  const comma = (s: string) => (d.decimal === ',' ? s.replace('.', ',') : s);
  switch (d.time) {
    case 'seconds':
      return comma(t.toFixed(3));
    case 'milliseconds':
      return String(Math.round(t * 1000));
    case 'microseconds':
      return String(Math.round(t * 1e6));
    case 'epoch-seconds':
      return comma((d.startEpoch + t).toFixed(3));
    case 'epoch-milliseconds':
      return String(Math.round((d.startEpoch + t) * 1000));
    case 'clock': {
      const ms = Math.round((d.startOfDay + t) * 1000) % 86_400_000;
      const s = Math.floor(ms / 1000);
      return `${two(Math.floor(s / 3600))}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}.${String(ms % 1000).padStart(3, '0')}`;
    }
    case 'iso-8601':
      return new Date(Math.round((d.startEpoch + t) * 1000)).toISOString();
    case 'date-time':
      return new Date(Math.round((d.startEpoch + t) * 1000)).toISOString().replace('T', ' ').replace('Z', '');
  }
}

function cellWriter(column: RecordedColumn, dialect: Dialect): (row: number) => string {
  const { values, fresh, id } = column;
  const unit = unitFor(id, dialect);
  const empty = (i: number) => Number.isNaN(values[i]!) || (dialect.sparse && fresh[i] === 0);
  if (id === 'selector') {
    return (i) => (empty(i) ? '' : dialect.selectorText ? SELECTOR_LETTERS[values[i]!]! : String(values[i]));
  }
  if (id === 'gear' || id === 'gearTarget')
    return (i) => (empty(i) ? '' : values[i] === -1 ? dialect.reverse : String(values[i]));
  if (familyOf(id) === 'code') return (i) => (empty(i) ? '' : String(values[i]));
  const step = (column.quantum || 0.01) * (unit.inverse ? 1 : Math.abs(unit.factor));
  const whole = Math.abs(step - Math.round(step)) < 1e-9 && (unit.offset ?? 0) % 1 === 0;
  const digits = (whole ? 0 : Math.min(5, Math.max(1, Math.ceil(-Math.log10(step) + 0.7)))) + dialect.extraDigits;
  const sign = dialect.knockNegative && id.startsWith('knockRetard') ? -1 : 1;
  const comma = dialect.decimal === ',';
  return (i) => {
    if (empty(i)) return '';
    const v = sign * written(values[i]!, unit);
    const s = (v === 0 ? 0 : v).toFixed(digits);
    const t = s === `-${(0).toFixed(digits)}` ? (0).toFixed(digits) : s;
    return comma ? t.replace('.', ',') : t;
  };
}

/** Windows-1252 differs from Latin-1 only in 0x80-0x9F, which no label uses. */
function encode(text: string, encoding: Dialect['encoding']): Uint8Array {
  switch (encoding) {
    case 'utf-8':
      return new Uint8Array(Buffer.from(text, 'utf8'));
    case 'utf-8-bom':
      return new Uint8Array(Buffer.from(`\ufeff${text}`, 'utf8'));
    case 'utf-16le':
      return new Uint8Array(Buffer.from(`\ufeff${text}`, 'utf16le'));
    case 'utf-16be':
      return new Uint8Array(Buffer.from(`\ufeff${text}`, 'utf16le').swap16());
    case 'windows-1252':
      return new Uint8Array(Buffer.from(text, 'latin1'));
  }
}
