import type { Dialect } from '../recording/raw.js';

export type Encoding = Dialect['encoding'];

export interface EncodingGuess {
  readonly encoding: Encoding;
  readonly confidence: number;
  /** Bytes of the byte order mark. */
  readonly mark: number;
  /** Not text at all: control characters that no encoding of the list explains. */
  readonly binary: boolean;
}

/**
 * Encoding of the first bytes of a file. Byte order mark, else the zero bytes of UTF-16 (ASCII text has every second
 * byte zero), else valid UTF-8, else Windows-1252. `cut` says that the sample ends before the file does.
 */
export function guessEncoding(sample: Uint8Array, cut: boolean): EncodingGuess {
  const [a, b, c] = [sample[0], sample[1], sample[2]];
  if (a === 0xef && b === 0xbb && c === 0xbf) return judged(sample, 'utf-8', 1, 3);
  if (a === 0xff && b === 0xfe)
    return { encoding: 'utf-16le', confidence: 1, mark: 2, binary: sample[2] === 0 && sample[3] === 0 };
  if (a === 0xfe && b === 0xff) return { encoding: 'utf-16be', confidence: 1, mark: 2, binary: false };
  const size = Math.min(sample.length, 4096) & ~1;
  let zerosEven = 0;
  let zerosOdd = 0;
  for (let at = 0; at < size; at += 2) {
    if (sample[at] === 0) zerosEven++;
    if (sample[at + 1] === 0) zerosOdd++;
  }
  const pairs = size / 2;
  if (pairs >= 2 && zerosOdd > pairs * 0.7 && zerosEven < pairs * 0.05)
    return { encoding: 'utf-16le', confidence: 0.95, mark: 0, binary: false };
  if (pairs >= 2 && zerosEven > pairs * 0.7 && zerosOdd < pairs * 0.05)
    return { encoding: 'utf-16be', confidence: 0.95, mark: 0, binary: false };
  const utf8 = isUtf8(sample, cut);
  if (utf8 === 'ascii') return judged(sample, 'utf-8', 0.95, 0);
  return utf8 === 'utf-8' ? judged(sample, 'utf-8', 0.99, 0) : judged(sample, 'windows-1252', 0.9, 0);
}

function judged(sample: Uint8Array, encoding: Encoding, confidence: number, mark: number): EncodingGuess {
  return { encoding, confidence, mark, binary: isBinary(sample) };
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what is looked for
const CONTROL = /[\x00-\x08\x0b\x0e-\x19\x1c-\x1f]/;

/** Zero bytes (1 in 1000, a few are damage), or more than 1 in 100 control characters other than tab, line ends, form feed and escape sequences' start. */
export function isBinary(sample: Uint8Array): boolean {
  if (!CONTROL.test(new TextDecoder('windows-1252').decode(sample))) return false;
  let control = 0;
  let zeros = 0;
  for (let at = 0; at < sample.length; at++) {
    const byte = sample[at]!;
    if (byte === 0) zeros++;
    else if (byte < 32 && byte !== 9 && byte !== 10 && byte !== 13 && byte !== 12 && byte !== 27 && byte !== 26)
      control++;
  }
  const odd = zeros + control;
  return odd > sample.length * 0.3 || (odd > 4 && (zeros > sample.length / 1000 || control > sample.length / 100));
}

/** The platform's own decoder looks at the bytes: much faster than a loop that has just been loaded. */
function isUtf8(bytes: Uint8Array, cut: boolean): 'ascii' | 'utf-8' | 'no' {
  try {
    // More to come: a character that is cut at the end is none of the sample's faults.
    const text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes, { stream: cut });
    return text.length === bytes.length ? 'ascii' : 'utf-8';
  } catch {
    return 'no';
  }
}

/** UTF-16 as UTF-8, piece by piece, so that all later steps see bytes in which delimiters and digits are single bytes. */
export async function* utf16AsUtf8(
  source: AsyncIterable<Uint8Array>,
  encoding: 'utf-16le' | 'utf-16be',
): AsyncGenerator<Uint8Array> {
  const decoder = new TextDecoder(encoding);
  const encoder = new TextEncoder();
  for await (const piece of source) {
    const text = decoder.decode(piece, { stream: true });
    if (text.length > 0) yield encoder.encode(text);
  }
  const rest = decoder.decode();
  if (rest.length > 0) yield encoder.encode(rest);
}

/** Decoder of cells and head lines. Bytes that are not UTF-8 after all (a late degree sign) are read as Windows-1252. */
export function textDecoder(encoding: Encoding): (bytes: Uint8Array) => string {
  const western = new TextDecoder('windows-1252');
  if (encoding === 'windows-1252') return (bytes) => western.decode(bytes);
  const strict = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
  return (bytes) => {
    try {
      return strict.decode(bytes);
    } catch {
      return western.decode(bytes);
    }
  };
}

/** Control characters (C0, C1, DEL) out of a text that will be shown: line breaks and tabs become blanks. */
export function printable(text: string): string {
  let clean = '';
  let copied = 0;
  for (let at = 0; at < text.length; at++) {
    const code = text.charCodeAt(at);
    if (code >= 32 && (code < 127 || code > 159) && !isBidiControl(code)) continue;
    clean += text.slice(copied, at);
    // One blank for CR LF, so that the text is the same whatever the line ends.
    if (code === 9 || code === 10 || (code === 13 && text.charCodeAt(at + 1) !== 10)) clean += ' ';
    copied = at + 1;
  }
  return (copied === 0 ? text : clean + text.slice(copied)).trim();
}

/** Marks that reorder what a terminal shows. */
function isBidiControl(code: number): boolean {
  return (code >= 0x202a && code <= 0x202e) || (code >= 0x2066 && code <= 0x2069) || code === 0xfeff;
}
