import type { TableBuilder } from './builder.js';
import type { Layout } from './layout.js';

const LF = 10;
const CR = 13;
const SPACE = 32;
const TAB = 9;
const QUOTE = 34;
const PLUS = 43;
const MINUS = 45;
const ZERO = 48;

/** 10^0 … 10^22 are exact doubles; a mantissa below 10^15 divided by one of them is rounded once, as `Number` does. */
const POWERS = Float64Array.from({ length: 16 }, (_, k) => 10 ** k);
const MOST_DIGITS = 15;

/**
 * Reads the regular region of a table from bytes straight into the columns: rows of the usual width whose cells are
 * numbers, empty, or (one by one, through the builder) texts and stamps. What it cannot vouch for it leaves, untouched,
 * to the tolerant path; both give the same table.
 *
 * Method: integer mantissa of at most 15 digits divided by an exact power of ten (W. D. Clinger, "How to Read Floating
 * Point Numbers Accurately", PLDI 1990, the fast case); everything else goes to `Number` as text.
 */
export class Scanner {
  /** Rows taken over and lines passed by the last call of {@link run}. */
  rowsRead = 0;
  linesRead = 0;
  private readonly delimiter: number;
  private readonly decimal: number;
  private readonly blank: number;
  private readonly timeColumn: number;
  private readonly stamped: boolean;
  private readonly dateColumn: number;
  /** Cells of the current row that are not plain numbers: column, start, end. */
  private readonly odd: Int32Array;
  private readonly lastText: Uint8Array[];
  private readonly lastLength: Int32Array;
  private readonly lastCode: Uint8Array;

  constructor(
    private readonly layout: Layout,
    private readonly builder: TableBuilder,
    private readonly decode: (bytes: Uint8Array) => string,
  ) {
    this.delimiter = layout.delimiter.charCodeAt(0);
    this.decimal = layout.decimal.charCodeAt(0);
    // A tab between cells is never a blank inside one.
    this.blank = this.delimiter === TAB ? SPACE : TAB;
    this.timeColumn = layout.time.column;
    this.stamped = layout.time.column >= 0 && layout.time.scale === 0;
    this.dateColumn = layout.time.dateColumn;
    const width = layout.labels.length;
    this.odd = new Int32Array(3 * (width + 1));
    this.lastText = Array.from({ length: width }, () => new Uint8Array(CACHED));
    this.lastLength = new Int32Array(width).fill(-1);
    this.lastCode = new Uint8Array(width);
  }

  /**
   * Reads rows from `at` on; returns the start of the first record that is left to the tolerant path, or of the
   * incomplete record at the end of the buffer. `limit` is {@link lastLineEnd}: behind it no loop has to look for the
   * end of the buffer.
   */
  run(bytes: Uint8Array, at: number, limit: number, line: number): number {
    this.rowsRead = 0;
    this.linesRead = 0;
    const { builder, delimiter, decimal, blank, odd, timeColumn, dateColumn } = this;
    const stampColumn = this.stamped ? timeColumn : -2;
    const { rowWidth, labels } = this.layout;
    const named = labels.length;
    const columns = builder.values;
    let row = builder.rows;
    let start = at;
    rows: while (start <= limit) {
      let p = start;
      let byte = bytes[p]!;
      if (byte === LF || byte === CR) {
        start = byte === CR && bytes[p + 1] === LF ? p + 2 : p + 1;
        this.linesRead++;
        continue;
      }
      if (row >= builder.capacity) {
        builder.rows = row;
        builder.ensure();
      }
      let odds = 0;
      let numbers = 0;
      let timed = false;
      for (let column = 0; ; column++) {
        if (column >= rowWidth) break rows;
        while (byte === SPACE || byte === blank) byte = bytes[++p]!;
        const cellStart = p;
        const quoted = byte === QUOTE;
        if (quoted) byte = bytes[++p]!;
        const negative = byte === MINUS;
        if (negative || byte === PLUS) byte = bytes[++p]!;
        // Small integers are the fast case of the machine; more than 9 digits are read again as doubles below.
        let whole = 0;
        const digitsFrom = p;
        while (byte >= ZERO && byte <= 57) {
          whole = (whole * 10 + (byte - ZERO)) | 0;
          byte = bytes[++p]!;
        }
        let digits = p - digitsFrom;
        let fraction = 0;
        if (byte === decimal && (decimal !== delimiter || quoted)) {
          const fractionFrom = ++p;
          byte = bytes[p]!;
          while (byte >= ZERO && byte <= 57) {
            whole = (whole * 10 + (byte - ZERO)) | 0;
            byte = bytes[++p]!;
          }
          fraction = p - fractionFrom;
          digits += fraction;
          if (digits === 0) fraction = -1;
        }
        const digitsTo = p;
        let closed = !quoted;
        if (quoted && byte === QUOTE) {
          closed = true;
          byte = bytes[++p]!;
        }
        while (byte === SPACE || byte === blank) byte = bytes[++p]!;
        const ends = byte === delimiter || byte === LF || byte === CR;
        const plain =
          ends && closed && digits <= MOST_DIGITS && fraction >= 0 && column !== stampColumn && column !== dateColumn;
        if (plain && digits > 0) {
          if (column >= named) break rows;
          const mantissa = digits <= 9 ? whole : longMantissa(bytes, digitsFrom, digitsTo);
          const value = fraction === 0 ? mantissa : mantissa / POWERS[fraction]!;
          columns[column]![row] = negative ? -value : value;
          numbers++;
          if (column === timeColumn) timed = true;
        } else if (plain && p === cellStart + (quoted ? 2 : 0) + blanksAfter(bytes, cellStart + (quoted ? 2 : 0), p)) {
          if (column < named) columns[column]![row] = Number.NaN;
        } else {
          // A cell in quotes that is no number may hold anything, also the end of a line.
          if (quoted || column >= named) break rows;
          p = cellStart;
          byte = bytes[p]!;
          while (byte !== delimiter && byte !== LF && byte !== CR) byte = bytes[++p]!;
          odd[odds] = column;
          odd[odds + 1] = cellStart;
          odd[odds + 2] = p;
          odds += 3;
        }
        if (byte !== delimiter) {
          if (column !== rowWidth - 1) break rows;
          break;
        }
        byte = bytes[++p]!;
      }
      if (timeColumn < 0 ? odds > 0 || numbers === 0 : !timed && !this.timedByText(bytes, odds, row)) break;
      for (let k = 0; k < odds; k += 3)
        this.storeOdd(bytes, odd[k]!, odd[k + 1]!, odd[k + 2]!, row, line + this.linesRead);
      for (let column = rowWidth; column < named; column++) columns[column]![row] = Number.NaN;
      builder.lines[row] = line + this.linesRead;
      row++;
      this.rowsRead++;
      this.linesRead++;
      start = byte === CR && bytes[p + 1] === LF ? p + 2 : p + 1;
    }
    builder.rows = row;
    return start;
  }

  /** The row's time stands in an odd cell (a stamp, an exponent) that can be read; a stamp is stored at once. */
  private timedByText(bytes: Uint8Array, odds: number, row: number): boolean {
    for (let k = 0; k < odds; k += 3) {
      if (this.odd[k] !== this.timeColumn) continue;
      const text = this.text(bytes, this.odd[k + 1]!, this.odd[k + 2]!);
      return this.stamped ? this.builder.storeStamp(row, text) : this.builder.isNumber(text);
    }
    return false;
  }

  private storeOdd(bytes: Uint8Array, column: number, from: number, end: number, row: number, line: number): void {
    const { builder } = this;
    if (this.stamped && column === this.timeColumn) {
      builder.values[column]![row] = Number.NaN;
      return;
    }
    const length = end - from;
    if (length === this.lastLength[column]) {
      const last = this.lastText[column]!;
      let k = 0;
      while (k < length && last[k] === bytes[from + k]) k++;
      if (k === length) {
        builder.values[column]![row] = Number.NaN;
        builder.storeCode(column, row, this.lastCode[column]!);
        return;
      }
    }
    builder.setCell(column, row, this.text(bytes, from, end), line);
    const code = builder.codeAt(column, row);
    if (code > 0 && length <= CACHED) {
      this.lastText[column]!.set(bytes.subarray(from, end));
      this.lastLength[column] = length;
      this.lastCode[column] = code;
    }
  }

  /** Trimmed text of a cell without quotes. */
  private text(bytes: Uint8Array, from: number, end: number): string {
    if (end - from > 48) return this.decode(bytes.subarray(from, end)).trim();
    let text = '';
    for (let p = from; p < end; p++) {
      const byte = bytes[p]!;
      if (byte >= 128) return this.decode(bytes.subarray(from, end)).trim();
      text += String.fromCharCode(byte);
    }
    return text.trim();
  }
}

/** Mantissa of up to 15 digits, a decimal sign between them passed over. */
function longMantissa(bytes: Uint8Array, from: number, to: number): number {
  let mantissa = 0;
  for (let p = from; p < to; p++) {
    const byte = bytes[p]!;
    if (byte >= ZERO && byte <= 57) mantissa = mantissa * 10 + (byte - ZERO);
  }
  return mantissa;
}

/** Bytes of the text state that a column remembers. */
const CACHED = 32;

/** Blanks from `from` up to `to`: equal to their distance when there is nothing else. */
function blanksAfter(bytes: Uint8Array, from: number, to: number): number {
  let p = from;
  while (p < to && (bytes[p] === SPACE || bytes[p] === TAB)) p++;
  return p - from;
}

/** Index of the last byte that surely ends a line, -1 when there is none. A CR at the very end may be half of CR LF. */
export function lastLineEnd(bytes: Uint8Array): number {
  const feed = bytes.lastIndexOf(LF);
  return feed >= 0 || bytes.length < 2 ? feed : bytes.lastIndexOf(CR, bytes.length - 2);
}
