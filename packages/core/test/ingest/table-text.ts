/** Builds CSV bytes of every dialect that the reader has to understand, from one table of numbers. */
export interface Spec {
  readonly delimiter: ',' | ';' | '\t' | '|';
  readonly decimal: '.' | ',';
  readonly encoding: 'utf-8' | 'utf-8-bom' | 'utf-16le' | 'utf-16be' | 'utf-16le-bom' | 'utf-16be-bom' | 'windows-1252';
  readonly lineEnd: '\n' | '\r\n' | '\r' | 'mixed';
  readonly preamble: 'none' | 'remarks' | 'comments' | 'pairs' | 'long' | 'blank-lines';
  readonly units: 'header' | 'row' | 'row-after-source' | 'row-before-source' | 'row-above';
  readonly time:
    | 'seconds'
    | 'milliseconds'
    | 'microseconds'
    | 'minutes'
    | 'clock'
    | 'iso'
    | 'date-time'
    | 'dotted'
    | 'date-and-time'
    | 'epoch-ms';
  readonly quotes: 'needed' | 'all';
  readonly trailing: boolean;
  readonly padded: boolean;
}

/** Columns beside the time: a temperature, a pressure, a state. NaN = empty cell. */
export interface Row {
  readonly temperature: number;
  readonly pressure: number;
  readonly gear: string;
}

/** Seconds between rows. */
export const STEP = 0.25;

const two = (value: number) => String(value).padStart(2, '0');

function timeCell(spec: Spec, index: number): string[] {
  const seconds = index * STEP;
  const decimal = (text: string) => text.replace('.', spec.decimal);
  const daySeconds = 43_200 + seconds;
  const whole = Math.floor(daySeconds);
  const milli = String(Math.round((daySeconds - whole) * 1000)).padStart(3, '0');
  const clock = `${two(Math.floor(whole / 3600))}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
  const fraction = `${spec.decimal}${milli}`;
  switch (spec.time) {
    case 'seconds':
      return [decimal(seconds.toFixed(2))];
    case 'milliseconds':
      return [String(seconds * 1000)];
    case 'microseconds':
      return [String(seconds * 1e6)];
    case 'minutes':
      return [decimal(String(seconds / 60))];
    case 'clock':
      return [clock + fraction];
    case 'iso':
      return [`2024-03-05T${clock}.${milli}Z`];
    case 'date-time':
      return [`2024-03-05 ${clock}${fraction}`];
    case 'dotted':
      return [`05.03.2024 ${clock}${fraction}`];
    case 'date-and-time':
      return ['05.03.2024', clock + fraction];
    case 'epoch-ms':
      return [String(1_709_640_000_000 + seconds * 1000)];
  }
}

const TIME_UNIT: Partial<Record<Spec['time'], string>> = {
  seconds: 's',
  milliseconds: 'ms',
  microseconds: 'us',
  minutes: 'min',
  'epoch-ms': 'ms',
};

export function tableText(spec: Spec, rows: readonly Row[]): { text: string; headerLine: number } {
  const q = (cell: string) =>
    spec.quotes === 'all' || cell.includes(spec.delimiter) || cell.includes('"')
      ? `"${cell.replaceAll('"', '""')}"`
      : cell;
  const number = (value: number) => (Number.isNaN(value) ? '' : String(value).replace('.', spec.decimal));
  const glue = spec.delimiter + (spec.padded ? ' ' : '');
  const line = (cells: readonly string[]) => cells.map(q).join(glue) + (spec.trailing ? spec.delimiter : '');
  const dated = spec.time === 'date-and-time';
  const units = [...(dated ? ['', ''] : [TIME_UNIT[spec.time] ?? '']), '°C', 'kPa', ''];
  const names = [...(dated ? ['Date', 'Time'] : ['Time']), 'Coolant temperature', 'Pressure, intake', 'Gear'];
  const sources = [...(dated ? ['clock', 'clock'] : ['clock']), 'engine', 'engine', 'gearbox'];
  const inHeader = names.map((name, i) => (units[i] === '' ? name : `${name} [${units[i]}]`));
  const bracketed = units.map((unit) => (unit === '' ? '' : `[${unit}]`));
  const lines = [...preamble(spec)];
  let headerLine = lines.length + 1;
  if (spec.units === 'header') lines.push(line(inHeader));
  else if (spec.units === 'row') lines.push(line(names), line(bracketed));
  else if (spec.units === 'row-after-source') lines.push(line(names), line(sources), line(bracketed));
  else if (spec.units === 'row-before-source') lines.push(line(names), line(bracketed), line(sources));
  else {
    lines.push(line(bracketed), line(names));
    headerLine++;
  }
  rows.forEach((row, i) => {
    lines.push(line([...timeCell(spec, i), number(row.temperature), number(row.pressure), row.gear]));
  });
  const ends = ['\n', '\r\n', '\n', '\r'];
  const text = lines.map((content, i) => content + (spec.lineEnd === 'mixed' ? ends[i % 4] : spec.lineEnd)).join('');
  return { text, headerLine };
}

function preamble(spec: Spec): string[] {
  if (spec.preamble === 'remarks') return ['Recorded on a test stand', 'Operator: nobody in particular'];
  if (spec.preamble === 'comments') return ['# first remark, with a comma', '## second; remark', '// third | remark'];
  if (spec.preamble === 'pairs')
    return ['Speed limit', 'Interval', 'Weight'].map((name, i) => `${name}${spec.delimiter}${i * 7}`);
  if (spec.preamble === 'long')
    return Array.from({ length: 1200 }, (_, i) => `remark ${i}${spec.delimiter}text${spec.delimiter}${i}`);
  if (spec.preamble === 'blank-lines') return ['Title', '', spec.delimiter.repeat(3), ''];
  return [];
}

export function encode(text: string, encoding: Spec['encoding']): Uint8Array {
  if (encoding === 'utf-8') return new TextEncoder().encode(text);
  if (encoding === 'utf-8-bom') return new TextEncoder().encode(`\ufeff${text}`);
  if (encoding === 'windows-1252') return Uint8Array.from(text, (c) => c.charCodeAt(0));
  const marked = encoding.endsWith('bom') ? `\ufeff${text}` : text;
  const bytes = new Uint8Array(marked.length * 2);
  const little = encoding.startsWith('utf-16le');
  for (let i = 0; i < marked.length; i++) {
    const code = marked.charCodeAt(i);
    bytes[2 * i + (little ? 0 : 1)] = code & 255;
    bytes[2 * i + (little ? 1 : 0)] = code >> 8;
  }
  return bytes;
}
