import { gzipSync } from 'node:zlib';
import { ByteText } from './byte-text.js';
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
  const body = new ByteText();
  let lastRow = 0;
  for (let i = 0; i < rows; i++) {
    if (i > 0) body.text(dialect.lineEnd);
    lastRow = body.length;
    writeTime(body, recorded.time[i]! - recorded.time[0]!, dialect);
    for (let c = 0; c < count; c++) {
      body.text(delimiter);
      writers[c]!(body, i);
    }
    body.text(tail);
    if (i === remark) body.text(`${dialect.lineEnd}${dialect.commentMark} remark`);
  }
  if (dialect.cutLastRow) body.cut(body.length - Math.floor((body.length - lastRow) * 0.4));
  else body.text(dialect.lineEnd);
  let bytes = joined(encode(lines.join(dialect.lineEnd) + dialect.lineEnd, dialect.encoding), body, dialect.encoding);
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

function writeTime(out: ByteText, t: number, d: Dialect): void {
  const mark = d.decimal.charCodeAt(0);
  switch (d.time) {
    case 'seconds':
      out.fixed(t, 3, mark);
      break;
    case 'milliseconds':
      out.fixed(t * 1000, 0, mark);
      break;
    case 'microseconds':
      out.fixed(t * 1e6, 0, mark);
      break;
    case 'epoch-seconds':
      out.fixed(d.startEpoch + t, 3, mark);
      break;
    case 'epoch-milliseconds':
      out.fixed((d.startEpoch + t) * 1000, 0, mark);
      break;
    case 'clock': {
      const ms = Math.round((d.startOfDay + t) * 1000) % 86_400_000;
      const s = Math.floor(ms / 1000);
      out.text(
        `${two(Math.floor(s / 3600))}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}.${String(ms % 1000).padStart(3, '0')}`,
      );
      break;
    }
    case 'iso-8601':
      out.text(new Date(Math.round((d.startEpoch + t) * 1000)).toISOString());
      break;
    case 'date-time':
      out.text(new Date(Math.round((d.startEpoch + t) * 1000)).toISOString().replace('T', ' ').replace('Z', ''));
      break;
  }
}

type CellWriter = (out: ByteText, row: number) => void;

function cellWriter(column: RecordedColumn, dialect: Dialect): CellWriter {
  const { values, fresh, id } = column;
  const unit = unitFor(id, dialect);
  const empty = (i: number) => Number.isNaN(values[i]!) || (dialect.sparse && fresh[i] === 0);
  const texts = (text: (value: number) => string): CellWriter => {
    return (out, i) => {
      if (!empty(i)) out.text(text(values[i]!));
    };
  };
  if (id === 'selector') return texts((value) => (dialect.selectorText ? SELECTOR_LETTERS[value]! : String(value)));
  if (id === 'gear' || id === 'gearTarget') return texts((value) => (value === -1 ? dialect.reverse : String(value)));
  if (familyOf(id) === 'code') return texts(String);
  const step = (column.quantum || 0.01) * (unit.inverse ? 1 : Math.abs(unit.factor));
  const whole = Math.abs(step - Math.round(step)) < 1e-9 && (unit.offset ?? 0) % 1 === 0;
  const digits = (whole ? 0 : Math.min(5, Math.max(1, Math.ceil(-Math.log10(step) + 0.7)))) + dialect.extraDigits;
  const sign = dialect.knockNegative && id.startsWith('knockRetard') ? -1 : 1;
  const mark = dialect.decimal.charCodeAt(0);
  return (out, i) => {
    if (!empty(i)) out.fixed(sign * written(values[i]!, unit), digits, mark);
  };
}

/** Head and body as one file; the body is ASCII, so only its width depends on the encoding. */
function joined(head: Uint8Array, body: ByteText, encoding: Dialect['encoding']): Uint8Array {
  const ascii = body.view();
  const wide = encoding === 'utf-16le' || encoding === 'utf-16be';
  const bytes = new Uint8Array(head.length + ascii.length * (wide ? 2 : 1));
  bytes.set(head);
  if (!wide) bytes.set(ascii, head.length);
  else
    for (let i = 0, at = head.length + (encoding === 'utf-16be' ? 1 : 0); i < ascii.length; i++, at += 2)
      bytes[at] = ascii[i]!;
  return bytes;
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
