import type { TableBuilder } from './builder.js';
import { FastRows, WINDOW } from './fast-rows.js';
import type { Layout } from './layout.js';
import { OddCells } from './odd-cells.js';

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
/** Digits whose mantissa surely fits 32 bits. */
const SMALL_DIGITS = 9;
/** Values of one block: it stays in the first caches while its rows are read, and goes to the columns as runs. */
const BLOCK_VALUES = 6144;
/** Compiled code is given up after so many rows that it left, when it took fewer than this many times as many. */
const TRIES = 64;
const WORTH = 4;

/** Where rows of numbers go. */
export interface ScanTarget {
  readonly values: readonly Float64Array[];
  /** Physical line of each row. */
  readonly lines: Uint32Array;
  rows: number;
  readonly capacity: number;
  /** 1 = the column holds a cell without a number. */
  readonly gaps: Uint8Array;
  /** 1 = the column is passed over, and 1 = it held something. */
  readonly skipped: Uint8Array;
  readonly seen: Uint8Array;
  /** Makes room for one more row; false when there can be none. */
  ensure(): boolean;
}

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
  /** Physical line of the first of these rows. */
  firstLine = 0;
  private readonly delimiter: number;
  private readonly decimal: number;
  private readonly blank: number;
  /** A comma that separates cells is a decimal sign inside quotes only: -1 outside. */
  private readonly plainDecimal: number;
  private readonly timeColumn: number;
  private readonly stamped: boolean;
  /** Column of time stamps, -2 when there is none. */
  private readonly stampColumn: number;
  private readonly dateColumn: number;
  private readonly rowWidth: number;
  /** Columns with a name. */
  private readonly named: number;
  /** Rows of a block, and its values: one run of `blockRows` a column, `stride` from one to the next. */
  private readonly blockRows: number;
  private readonly stride: number;
  /** Reads rows of plain numbers faster; undefined where it may not, cannot, or met too few of them. */
  private fast: FastRows | undefined;
  private fastRows = 0;
  private fastMisses = 0;
  private readonly block: Float64Array;
  private readonly runs: readonly Float64Array[];
  /** Cells of the current row that are not plain numbers: column, start, end. */
  private readonly odd: Int32Array;
  private odds = 0;
  private readonly words: OddCells | undefined;

  constructor(
    private readonly layout: Layout,
    private readonly target: ScanTarget,
    /** Takes over what is no number; without it such rows are left to the tolerant path. */
    words: { readonly builder: TableBuilder; readonly decode: (bytes: Uint8Array) => string } | undefined,
    /** Bytes of a record beyond which the tolerant path refuses it. */
    private readonly lineBytes: number,
  ) {
    this.delimiter = layout.delimiter.charCodeAt(0);
    this.decimal = layout.decimal.charCodeAt(0);
    // A tab between cells is never a blank inside one.
    this.blank = this.delimiter === TAB ? SPACE : TAB;
    this.timeColumn = layout.time.column;
    this.stamped = layout.time.column >= 0 && layout.time.scale === 0;
    this.stampColumn = this.stamped ? this.timeColumn : -2;
    this.plainDecimal = this.decimal === this.delimiter ? -1 : this.decimal;
    this.dateColumn = layout.time.dateColumn;
    this.rowWidth = layout.rowWidth;
    const width = layout.labels.length;
    this.named = width;
    this.blockRows = Math.max(4, Math.min(256, Math.floor(BLOCK_VALUES / width)));
    this.fast = this.isPlain() ? this.openFast() : undefined;
    this.stride = this.fast?.stride ?? this.blockRows;
    this.block = this.fast?.block ?? new Float64Array(this.blockRows * width);
    this.runs = Array.from({ length: width }, (_, k) =>
      this.block.subarray(k * this.stride, k * this.stride + this.blockRows),
    );
    this.odd = new Int32Array(3 * (width + 1));
    this.words =
      words === undefined
        ? undefined
        : new OddCells(words.builder, words.decode, { column: this.timeColumn, stamped: this.stamped });
  }

  /**
   * Reads rows from `at` on; returns the start of the first record that is left to the tolerant path, or of the
   * incomplete record at the end of the buffer. `limit` is {@link lastLineEnd}: behind it no loop has to look for the
   * end of the buffer.
   */
  run(bytes: Uint8Array, at: number, limit: number, line: number): number {
    this.rowsRead = 0;
    this.linesRead = 0;
    const { target, timeColumn, block, blockRows, stride } = this;
    const { rowWidth, labels } = this.layout;
    const named = labels.length;
    let lines = 0;
    let row = target.rows;
    let inBlock = 0;
    let start = at;
    this.fast?.reset();
    while (start <= limit) {
      const byte = bytes[start]!;
      if (byte === LF || byte === CR) {
        start = byte === CR && bytes[start + 1] === LF ? start + 2 : start + 1;
        lines++;
        continue;
      }
      if (row >= target.capacity) {
        if (!this.grow(row, inBlock)) break;
        // The target may have taken the rows away.
        row = target.rows;
        inBlock = 0;
      }
      const { fast } = this;
      if (fast !== undefined) {
        const next = fast.read(bytes, start, limit, inBlock, Math.min(blockRows - inBlock, target.capacity - row));
        if (next > start) {
          const { taken } = fast;
          this.fastRows += taken;
          if (this.rowsRead === 0) this.firstLine = line + lines;
          this.rowsRead += taken;
          for (let k = 0; k < taken; k++) target.lines[row + k] = line + lines + k;
          lines += taken;
          row += taken;
          start = next;
          inBlock += taken;
          if (inBlock === blockRows) {
            this.flush(row, inBlock);
            inBlock = 0;
          }
          continue;
        }
        if (++this.fastMisses > TRIES && this.fastMisses * WORTH > this.fastRows) this.fast = undefined;
      }
      const end = this.row(bytes, start, inBlock);
      const { odds } = this;
      if (end < 0 || end - start > this.lineBytes || (odds > 0 && this.words === undefined)) break;
      if (timeColumn < 0) {
        if (odds > 0 || !this.anyNumber(inBlock)) break;
      } else {
        const time = block[timeColumn * stride + inBlock]!;
        if (Number.isNaN(time) && !this.timedByText(bytes, row)) break;
      }
      for (let column = rowWidth; column < named; column++) {
        block[column * stride + inBlock] = Number.NaN;
        target.gaps[column] = 1;
      }
      this.seeSkipped(inBlock);
      for (let k = 0; k < odds; k += 3) {
        const column = this.odd[k]!;
        this.words!.store(bytes, column, this.odd[k + 1]!, this.odd[k + 2]!, row, line + lines);
        if (target.skipped[column] === 1) continue;
        const value = target.values[column]![row]!;
        block[column * stride + inBlock] = value;
        if (Number.isNaN(value)) target.gaps[column] = 1;
      }
      target.lines[row] = line + lines;
      row++;
      if (this.rowsRead++ === 0) this.firstLine = line + lines;
      lines++;
      start = bytes[end] === CR && bytes[end + 1] === LF ? end + 2 : end + 1;
      if (++inBlock === blockRows) {
        this.flush(row, inBlock);
        inBlock = 0;
      }
    }
    this.flush(row, inBlock);
    this.linesRead = lines;
    return start;
  }

  /**
   * Reads the cells of one row into row `inBlock` of the block, and notes the odd ones. Returns the index of the byte that
   * ends the line, -1 when the row is not regular. A function of its own: a loop over rows would be compiled while it runs,
   * before the engine has seen its end, and thrown away at the end of each piece.
   */
  private row(bytes: Uint8Array, start: number, inBlock: number): number {
    const { delimiter, decimal, blank, odd, block, stride, dateColumn, plainDecimal, stampColumn, rowWidth } = this;
    const { named } = this;
    const { gaps } = this.target;
    let p = start;
    let byte = bytes[p]!;
    let odds = 0;
    let place = inBlock;
    for (let column = 0; column < rowWidth; column++) {
      const cellStart = p;
      let quoted = false;
      let negative = false;
      let signed = false;
      let mark = plainDecimal;
      if ((byte ^ ZERO) > 9) {
        while (byte === SPACE || byte === blank) byte = bytes[++p]!;
        if (byte === QUOTE) {
          quoted = true;
          mark = decimal;
          byte = bytes[++p]!;
        }
        if (byte === MINUS || byte === PLUS) {
          signed = true;
          negative = byte === MINUS;
          byte = bytes[++p]!;
        }
      }
      // Small integers are the fast case of the machine; more than 9 digits are read again as doubles below.
      // 48 … 57 are the only bytes that differ from 48 by at most 9 as an exclusive or.
      let whole = 0;
      const digitsFrom = p;
      let digit = byte ^ ZERO;
      while (digit <= 9) {
        whole = (Math.imul(whole, 10) + digit) | 0;
        byte = bytes[++p]!;
        digit = byte ^ ZERO;
      }
      let digits = p - digitsFrom;
      let fraction = 0;
      if (byte === mark) {
        const fractionFrom = ++p;
        byte = bytes[p]!;
        digit = byte ^ ZERO;
        while (digit <= 9) {
          whole = (Math.imul(whole, 10) + digit) | 0;
          byte = bytes[++p]!;
          digit = byte ^ ZERO;
        }
        fraction = p - fractionFrom;
        digits += fraction;
        // A sign alone is no empty cell.
        if (digits === 0) signed = true;
      }
      const digitsTo = p;
      let plain = true;
      if (byte !== delimiter && byte !== LF) {
        if (quoted) {
          if (byte === QUOTE) byte = bytes[++p]!;
          else plain = false;
        }
        while (byte === SPACE || byte === blank) byte = bytes[++p]!;
        if (byte !== delimiter && byte !== LF && byte !== CR) plain = false;
      } else if (quoted) plain = false;
      if (column === stampColumn || column === dateColumn) plain = false;
      if (plain && digits > 0 && digits <= MOST_DIGITS) {
        if (column >= named) return -1;
        let value: number = digits <= SMALL_DIGITS ? whole : longMantissa(bytes, digitsFrom, digitsTo);
        if (fraction > 0) value /= POWERS[fraction]!;
        block[place] = negative ? -value : value;
      } else if (plain && digits === 0 && !signed) {
        if (column < named) {
          block[place] = Number.NaN;
          gaps[column] = 1;
        }
      } else {
        // A cell in quotes that is no number may hold anything, also the end of a line.
        if (quoted || column >= named) return -1;
        p = cellStart;
        byte = bytes[p]!;
        while (byte !== delimiter && byte !== LF && byte !== CR) byte = bytes[++p]!;
        odd[odds] = column;
        odd[odds + 1] = cellStart;
        odd[odds + 2] = p;
        odds += 3;
        block[place] = Number.NaN;
      }
      place += stride;
      if (byte !== delimiter) {
        if (column !== rowWidth - 1) return -1;
        this.odds = odds;
        return p;
      }
      byte = bytes[++p]!;
    }
    return -1;
  }

  /** Rows whose cells are all of one kind: no stamps, no columns that rows may lack. */
  private isPlain(): boolean {
    const { layout, rowWidth, named } = this;
    return (
      rowWidth === named &&
      layout.time.column >= 0 &&
      !this.stamped &&
      this.dateColumn < 0 &&
      this.plainDecimal >= 0 &&
      this.lineBytes >= WINDOW &&
      this.blockRows * named <= 2 * BLOCK_VALUES
    );
  }

  private openFast(): FastRows | undefined {
    const { delimiter, decimal, blank, timeColumn, rowWidth } = this;
    return FastRows.open(
      { width: rowWidth, delimiter, decimal, blank, timeColumn, skipped: this.target.skipped },
      this.blockRows,
    );
  }

  /** Notes which columns that are passed over hold a number in this row of the block. */
  private seeSkipped(inBlock: number): void {
    const { target, block, stride } = this;
    if (this.layout.skipped === undefined) return;
    for (let column = 0; column < this.rowWidth; column++)
      if (target.skipped[column] === 1 && !Number.isNaN(block[column * stride + inBlock]!)) target.seen[column] = 1;
  }

  private grow(row: number, inBlock: number): boolean {
    // What grows is copied, so it has to be complete.
    this.flush(row, inBlock);
    return this.target.ensure();
  }

  /** Copies the first `count` rows of the block to the end of the columns; `row` is the row behind them. */
  private flush(row: number, count: number): void {
    const { target, blockRows } = this;
    const to = row - count;
    const columns = target.values;
    for (let column = 0; column < columns.length; column++) {
      if (target.skipped[column] === 1) continue;
      const run = this.runs[column]!;
      columns[column]!.set(count === blockRows ? run : run.subarray(0, count), to);
    }
    const { fast } = this;
    if (fast !== undefined) {
      for (let column = 0; column < columns.length; column++) {
        if (fast.gaps[column] === 1) target.gaps[column] = 1;
        if (fast.seen[column] === 1) target.seen[column] = 1;
      }
    }
    target.rows = row;
  }

  /** The row's time stands in an odd cell that can be read. */
  private timedByText(bytes: Uint8Array, row: number): boolean {
    for (let k = 0; k < this.odds; k += 3)
      if (this.odd[k] === this.timeColumn) return this.words!.isTime(bytes, this.odd[k + 1]!, this.odd[k + 2]!, row);
    return false;
  }

  private anyNumber(inBlock: number): boolean {
    const width = Math.min(this.layout.rowWidth, this.layout.labels.length);
    for (let column = 0; column < width; column++)
      if (!Number.isNaN(this.block[column * this.stride + inBlock]!)) return true;
    return false;
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

/** Index of the last byte that surely ends a line, -1 when there is none. A CR at the very end may be half of CR LF. */
export function lastLineEnd(bytes: Uint8Array): number {
  const feed = bytes.lastIndexOf(LF);
  return feed >= 0 || bytes.length < 2 ? feed : bytes.lastIndexOf(CR, bytes.length - 2);
}
