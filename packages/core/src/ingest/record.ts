import Papa from 'papaparse';

const LF = 10;
const CR = 13;
const QUOTE = 34;
const SPACE = 32;
const TAB = 9;

/** A quoted cell longer than this, or over more lines, is a stray quote and not a cell (one must not swallow the file). */
const QUOTED_BYTES = 64 << 10;
const QUOTED_LINES = 64;

/**
 * End (exclusive, before the line end) of the record that begins at `from`; -1 when it is not complete in the buffer
 * and more may come. Line ends are LF, CR LF or CR, also mixed. A quote opens a cell only at the cell's start (RFC 4180
 * section 2, plus blanks before it); a quoted cell must close before a delimiter or line end, otherwise its first quote
 * is plain text.
 */
export function recordEnd(bytes: Uint8Array, from: number, to: number, delimiter: number, last: boolean): number {
  let at = from;
  let cellStart = true;
  while (at < to) {
    const byte = bytes[at]!;
    if (byte === LF) return at;
    if (byte === CR) return at + 1 >= to && !last ? -1 : at;
    if (byte === delimiter) cellStart = true;
    else if (cellStart && byte !== SPACE && byte !== TAB) {
      cellStart = false;
      if (byte === QUOTE) {
        const close = quoteEnd(bytes, at, to, delimiter, last);
        if (close === -1) return -1;
        if (close > 0) at = close;
      }
    }
    at++;
  }
  return last ? to : -1;
}

/** Index of the closing quote; 0 = not a quoted cell; -1 = the buffer ends before it is known. */
function quoteEnd(bytes: Uint8Array, open: number, to: number, delimiter: number, last: boolean): number {
  const bound = Math.min(to, open + QUOTED_BYTES);
  let lines = 0;
  let at = open + 1;
  while (at < bound) {
    const byte = bytes[at]!;
    if (byte === LF && ++lines > QUOTED_LINES) return 0;
    if (byte !== QUOTE) {
      at++;
      continue;
    }
    if (at + 1 < to && bytes[at + 1] === QUOTE) {
      at += 2;
      continue;
    }
    let next = at + 1;
    while (next < to && (bytes[next] === SPACE || (bytes[next] === TAB && delimiter !== TAB))) next++;
    if (next >= to) return last ? at : -1;
    const after = bytes[next]!;
    return after === delimiter || after === LF || after === CR ? at : 0;
  }
  return bound < to || last ? 0 : -1;
}

/** First byte of the record after the one that ends at `end`. */
export function afterRecord(bytes: Uint8Array, end: number, to: number): number {
  if (end >= to) return to;
  return bytes[end] === CR && end + 1 < to && bytes[end + 1] === LF ? end + 2 : end + 1;
}

/** Line breaks inside a record (quoted cells): LF, CR LF and CR each count once. */
export function breaksInside(bytes: Uint8Array, from: number, end: number): number {
  let count = 0;
  for (let at = from; at < end; at++) {
    const byte = bytes[at];
    if (byte === LF) count++;
    else if (byte === CR && bytes[at + 1] !== LF) count++;
  }
  return count;
}

/** Cells of one record, trimmed of blanks, quotes taken off. Never throws. */
export function splitCells(text: string, delimiter: string): string[] {
  if (!text.includes('"')) {
    const cells = text.split(delimiter);
    for (let i = 0; i < cells.length; i++) cells[i] = cells[i]!.trim();
    return cells;
  }
  // Blanks before an opening quote and stray quotes are outside RFC 4180: papaparse reads what is well formed.
  if (!blankBeforeQuote(text)) {
    const parsed = Papa.parse<string[]>(text, { delimiter, newline: '\n', header: false });
    if (parsed.errors.length === 0 && parsed.data.length === 1) return parsed.data[0]!.map((cell) => cell.trim());
  }
  return splitLoose(text, delimiter);
}

function blankBeforeQuote(text: string): boolean {
  return (
    text.includes(' "') || text.includes('\t"') || text.includes('" ') || text.includes('"\t') || text.includes('\r')
  );
}

function splitLoose(text: string, delimiter: string): string[] {
  const cells: string[] = [];
  const end = text.length;
  let at = 0;
  for (;;) {
    let start = at;
    while (start < end && text[start] !== delimiter && (text[start] === ' ' || text[start] === '\t')) start++;
    const close = text[start] === '"' ? closeOf(text, start, delimiter) : 0;
    if (close > 0) {
      cells.push(
        text
          .slice(start + 1, close)
          .replaceAll('""', '"')
          .trim(),
      );
      at = text.indexOf(delimiter, close + 1);
    } else {
      at = text.indexOf(delimiter, start);
      cells.push(text.slice(start, at < 0 ? end : at).trim());
    }
    if (at < 0) return cells;
    at++;
  }
}

function closeOf(text: string, open: number, delimiter: string): number {
  let at = open + 1;
  for (;;) {
    at = text.indexOf('"', at);
    if (at < 0) return 0;
    if (text[at + 1] === '"') {
      at += 2;
      continue;
    }
    let next = at + 1;
    while (next < text.length && text[next] !== delimiter && (text[next] === ' ' || text[next] === '\t')) next++;
    return next >= text.length || text[next] === delimiter ? at : 0;
  }
}

/** Index of the last byte that surely ends a line, -1 when there is none. A CR at the very end may be half of CR LF. */
export function lastLineEnd(bytes: Uint8Array): number {
  const feed = bytes.lastIndexOf(LF);
  return feed >= 0 || bytes.length < 2 ? feed : bytes.lastIndexOf(CR, bytes.length - 2);
}
