import type { ExportColumn } from './columns.js';

/** Characters of text after which a piece is handed on. */
const PIECE = 1 << 18;

/**
 * Text that a spreadsheet would take for a formula, full-width signs included, gets an apostrophe in front (OWASP, "CSV
 * Injection"); what holds a
 * comma, quote or line end is quoted (RFC 4180 section 2). Numbers never come here: -5 stays -5.
 */
export function csvText(text: string): string {
  const plain = /^[=+\-@\t\r\n＝＋－＠]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
}

/** Rows of CSV in pieces: UTF-8, comma, point, LF; the shortest text of each number that reads back as the same double. */
export function* csvPieces(columns: readonly ExportColumn[]): Generator<string> {
  let text = `${columns.map(({ name }) => csvText(name)).join(',')}\n`;
  const rows = columns[0]!.values.length;
  for (let row = 0; row < rows; row++) {
    for (let c = 0; c < columns.length; c++) {
      const { values, word } = columns[c]!;
      const value = values[row]!;
      if (c > 0) text += ',';
      if (!Number.isNaN(value)) text += word === undefined ? String(value) : csvText(word(value));
    }
    text += '\n';
    if (text.length < PIECE) continue;
    yield text;
    text = '';
  }
  if (text !== '') yield text;
}
