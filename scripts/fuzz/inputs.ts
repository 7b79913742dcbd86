// Inputs for the fuzz run: dirty tables, bytes of any kind, and mutations of recordings. All from one seeded generator.
import { gzipSync } from 'node:zlib';
import type { Random } from '../simulate/random.js';

const encoder = new TextEncoder();

const ODD_CELLS = [
  ...['', ' ', '""', '"', '"1.5"', '"1,5"', ' 7 ', '"8" ', '.', '-', '+', '-.5', '5.', '1.2.3', '1,234.5', '1.234,5'],
  ...['0x10', '1e5', '1e400', '-1e-400', '1e', 'e5', 'inf', '-inf', 'NaN', '1.#QNAN', 'null', 'n/a', '--', '#', '%'],
  ...['87 °C', '12%', '3 V', 'N', 'D', 'ON', 'off', 'a "b" c', '"x,y"', '"x\ny"', '"open', 'é', '\u00e9\u0301', '😀'],
  ...['10:30', '10:30:15.5', '2024-03-05', '2024-03-05T10:00:00Z', '05.03.2024', '31/12/2023 23:59:59', '1 2', '-0'],
  ...['\u0007', '\u001b[31m', '=1+1', '@x', '__proto__', 'constructor', 'toString', '\ufeff', '\u202e', '\u0000'],
  ...['123456789', '1234567890', '123456789012345', '1234567890123456', '0.1234567890123456', '00000000000000001.5'],
];

const LABELS = [
  ...[
    'Time [s]',
    'time',
    'Timestamp',
    'Zeit (ms)',
    'Date',
    'Clock',
    'Offset (ms)',
    'Engine speed [rpm]',
    'RPM',
    'ECT[F]',
  ],
  ...[
    'Coolant temperature (°C)',
    'SHRTFT1[%]',
    'LAMBDA',
    'KR3[deg]',
    'Gear',
    'MAP (kPa)',
    'VSS',
    '',
    '"a, b"',
    '"x""y"',
  ],
  ...[
    '__proto__',
    'constructor',
    'hasOwnProperty',
    'valueOf',
    '\u001b[2J',
    '[',
    '(((((',
    ']]]',
    '_'.repeat(60),
    '🚗 [°]',
  ],
];

const pick = <T>(random: Random, list: readonly T[]): T => random.pick(list);

function numberCell(random: Random): string {
  const digits = random.int(1, 9);
  const text = String(Math.floor(random.next() * 10 ** digits));
  const sign = random.chance(0.2) ? '-' : '';
  return random.chance(0.6) ? `${sign}${text}.${random.int(0, 9999)}` : sign + text;
}

function timeCell(random: Random, kind: number, i: number): string {
  switch (kind) {
    case 0:
      return (i * 0.05).toFixed(2);
    case 1:
      return String(i * 50);
    case 2:
      return `10:${String(Math.floor(i / 60) % 60).padStart(2, '0')}:${String(i % 60).padStart(2, '0')}.${random.int(0, 9)}`;
    case 3:
      return `2024-03-05T10:00:${String(i % 60).padStart(2, '0')}Z`;
    case 4:
      return random.chance(0.1) ? '' : String(i / 8);
    default:
      return String(random.int(-5, 500) / 10);
  }
}

/** A table as loggers write them, and worse. */
export function dirtyTable(random: Random): Uint8Array {
  const delimiter = pick(random, [',', ';', '\t', '|']);
  const lineEnd = pick(random, ['\n', '\n', '\r\n', '\r', '\n\n']);
  const width = random.chance(0.02) ? random.int(50, 400) : random.int(1, 8);
  const rows = random.chance(0.05) ? random.int(100, 600) : random.int(0, 40);
  const kind = random.int(0, 5);
  const odd = pick(random, [0, 0.02, 0.2, 0.7]);
  const comma = delimiter !== ',' && random.chance(0.3);
  const quoted = random.chance(0.15);
  const lines: string[] = [];
  const preamble = random.chance(0.2) ? random.int(1, 5) : 0;
  for (let k = 0; k < preamble; k++)
    lines.push(pick(random, ['# note', 'Title', '', 'a;b', `x${delimiter}1`, '// c, d']));
  const header = Array.from({ length: width }, (_, i) =>
    i === 0 && random.chance(0.8) ? 'Time [s]' : pick(random, LABELS),
  );
  if (random.chance(0.95)) lines.push(header.join(delimiter));
  if (random.chance(0.15)) lines.push(header.map(() => pick(random, ['[s]', 'rpm', '°C', '', '%'])).join(delimiter));
  for (let i = 0; i < rows; i++) {
    const cells = Array.from({ length: width }, (_, c) => {
      if (c === 0 && !random.chance(0.02)) return timeCell(random, kind, i);
      const cell = random.chance(odd) ? pick(random, ODD_CELLS) : numberCell(random);
      return comma ? cell.replace('.', ',') : cell;
    });
    if (random.chance(odd * 0.1)) cells.pop();
    if (random.chance(odd * 0.1)) cells.push(pick(random, ['', '5', 'x']));
    const line = cells.map((cell) => (quoted && !cell.includes('"') ? `"${cell}"` : cell)).join(delimiter);
    lines.push(random.chance(odd * 0.05) ? pick(random, [header.join(delimiter), 'a note', '', delimiter]) : line);
  }
  const text = lines.join(lineEnd) + (random.chance(0.7) ? lineEnd : '');
  return encoded(random, text);
}

function encoded(random: Random, text: string): Uint8Array {
  const kind = random.int(0, 19);
  if (kind === 0) return utf16(`\ufeff${text}`, true);
  if (kind === 1) return utf16(text, false);
  if (kind === 2) return Uint8Array.from(text, (c) => c.charCodeAt(0) & 255);
  if (kind === 3) return encoder.encode(`\ufeff${text}`);
  return encoder.encode(text);
}

function utf16(text: string, little: boolean): Uint8Array {
  const bytes = new Uint8Array(text.length * 2);
  const view = new DataView(bytes.buffer);
  for (let i = 0; i < text.length; i++) view.setUint16(2 * i, text.charCodeAt(i), little);
  return bytes;
}

/** Any bytes at all, some of them from the alphabet of tables. */
export function anyBytes(random: Random): Uint8Array {
  const length = random.chance(0.1) ? random.int(0, 4) : random.int(0, 2000);
  const alphabet = encoder.encode('0123456789.,;\t|"\'\n\r -+eE:/Tt#°\u0000');
  const tame = random.next();
  return Uint8Array.from({ length }, () => (random.chance(tame) ? pick(random, [...alphabet]) : random.int(0, 255)));
}

/** A stretch of a recording: cut, doubled, shuffled, with flipped bits. */
export function mutated(random: Random, recordings: readonly Uint8Array[]): Uint8Array {
  const whole = pick(random, recordings);
  const head = Math.min(whole.length, 600 + random.int(0, 3000));
  let bytes: Uint8Array = whole.slice(0, head);
  const changes = random.int(1, 4);
  for (let k = 0; k < changes; k++) bytes = change(random, bytes);
  return bytes;
}

function change(random: Random, bytes: Uint8Array): Uint8Array {
  const at = random.int(0, bytes.length);
  const to = Math.min(bytes.length, at + random.int(0, 400));
  switch (random.int(0, 6)) {
    case 0:
      return bytes.slice(0, at);
    case 1:
      return joined(bytes.subarray(0, at), bytes.subarray(to));
    case 2:
      return joined(bytes.subarray(0, to), bytes.subarray(at));
    case 3: {
      const flipped = bytes.slice();
      for (let n = random.int(1, 20); n > 0 && flipped.length > 0; n--)
        flipped[random.int(0, flipped.length - 1)]! ^= 1 << random.int(0, 7);
      return flipped;
    }
    case 4:
      return joined(bytes.subarray(0, at), encoder.encode(pick(random, ODD_CELLS)), bytes.subarray(at));
    case 5: {
      const lines = new TextDecoder('latin1').decode(bytes).split('\n');
      for (let n = Math.min(20, lines.length); n > 0; n--) {
        const a = random.int(0, lines.length - 1);
        const b = random.int(0, lines.length - 1);
        [lines[a], lines[b]] = [lines[b]!, lines[a]!];
      }
      return Uint8Array.from(lines.join('\n'), (c) => c.charCodeAt(0));
    }
    default:
      return random.chance(0.5) ? gzipSync(bytes) : joined(bytes.subarray(at), bytes.subarray(0, at));
  }
}

function joined(...parts: readonly Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
