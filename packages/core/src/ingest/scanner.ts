import type { TableBuilder } from './builder.js';
import { type DirectColumns, FastRows, rowFormOf, WINDOW } from './fast-rows.js';
import type { Layout } from './layout.js';
import { longMantissa } from './number-text.js';
import { OddCells } from './odd-cells.js';
import { RowBlock } from './row-block.js';
import type { RowLines } from './row-lines.js';

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
/** Compiled code is given up after so many rows that it left, when it took fewer than this many times as many. */
const TRIES = 64;
const WORTH = 4;

/** Where rows of numbers go. */
export interface ScanTarget {
  readonly values: readonly Float64Array[];
  readonly lines: RowLines;
  rows: number;
  readonly capacity: number;
  /** 1 = the column holds a cell without a number. */
  readonly gaps: Uint8Array;
  /** 1 = the column is passed over, and 1 = it held something. */
  readonly skipped: Uint8Array;
  readonly seen: Uint8Array;
  /** Where compiled code may write the columns itself. */
  readonly direct: DirectColumns | undefined;
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
  private block: RowBlock;
  /** Reads rows of plain numbers faster; undefined where it may not, cannot, or met too few of them. */
  private fast: FastRows | undefined;
  private fastRows = 0;
  private fastMisses = 0;
  /** Cells of the current row that are not plain numbers: column, start, end. */
  private readonly odd: Int32Array;
  private odds = 0;
  /** The row that is read next, and how many before it are still in the block. */
  private next = 0;
  private inBlock = 0;
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
    this.fast = this.openFast();
    this.block = new RowBlock(width, this.fast);
    this.odd = new Int32Array(3 * (width + 1));
    this.words =
      words === undefined
        ? undefined
        : new OddCells(words.builder, words.decode, { column: this.timeColumn, stamped: this.stamped });
  }

  /**
   * Reads rows from `at` on; returns the start of the first record that is left to the tolerant path, or of the
   * incomplete record at the end of the buffer. `limit` is `lastLineEnd`: behind it no loop has to look for the
   * end of the buffer.
   */
  run(bytes: Uint8Array, at: number, limit: number, line: number): number {
    this.rowsRead = 0;
    this.linesRead = 0;
    this.next = this.target.rows;
    this.inBlock = 0;
    let start = at;
    this.fast?.reset();
    while (start <= limit) {
      const byte = bytes[start]!;
      if (byte === LF || byte === CR) {
        start = byte === CR && bytes[start + 1] === LF ? start + 2 : start + 1;
        this.linesRead++;
        continue;
      }
      if (this.next >= this.target.capacity && !this.grow()) break;
      if (this.fast !== undefined) {
        const behind = this.fastStretch(this.fast, bytes, start, limit, line);
        if (behind > start) {
          start = behind;
          continue;
        }
        if (++this.fastMisses > TRIES && this.fastMisses * WORTH > this.fastRows) {
          // With what it noted.
          this.flush();
          this.fast = undefined;
        }
      }
      const end = this.slowRow(bytes, start, line);
      if (end < 0) break;
      start = bytes[end] === CR && bytes[end + 1] === LF ? end + 2 : end + 1;
    }
    this.flush();
    return start;
  }

  /**
   * Rows of plain numbers, as many as there are in one go. A small loop of its own: the engine compiles it in no time, beside
   * the reading, and the loop that knows all about rows stays cold.
   */
  private fastStretch(fast: FastRows, bytes: Uint8Array, start: number, limit: number, line: number): number {
    const { target, block } = this;
    let at = start;
    do {
      const { direct } = target;
      const room = target.capacity - this.next;
      if (direct !== undefined && this.inBlock > 0) this.flush();
      const behind =
        direct === undefined
          ? fast.read(bytes, at, limit, this.inBlock, Math.min(block.rows - this.inBlock, room))
          : fast.readDirect(bytes, at, limit, direct, this.next, room);
      if (behind <= at) break;
      const { taken } = fast;
      const first = line + this.linesRead;
      if (this.rowsRead === 0) this.firstLine = first;
      target.lines.note(this.next, first);
      this.fastRows += taken;
      this.rowsRead += taken;
      this.linesRead += taken;
      this.next += taken;
      at = behind;
      if (direct !== undefined) continue;
      this.inBlock += taken;
      if (this.inBlock === block.rows) this.flush();
    } while (at <= limit && this.next < target.capacity);
    return at;
  }

  /** One row, cell by cell. Returns the index of the byte that ends its line, -1 when it is left to the tolerant path. */
  private slowRow(bytes: Uint8Array, start: number, line: number): number {
    const { target, timeColumn, inBlock, next: row } = this;
    const { values: block, stride } = this.block;
    const end = this.row(bytes, start, inBlock);
    const { odds } = this;
    if (end < 0 || end - start > this.lineBytes || (odds > 0 && this.words === undefined)) return -1;
    if (timeColumn < 0) {
      if (odds > 0 || !this.anyNumber(inBlock)) return -1;
    } else {
      const time = block[timeColumn * stride + inBlock]!;
      if (Number.isNaN(time) && !this.timedByText(bytes, row)) return -1;
    }
    for (let column = this.rowWidth; column < this.named; column++) {
      block[column * stride + inBlock] = Number.NaN;
      target.gaps[column] = 1;
    }
    this.seeSkipped(inBlock);
    const here = line + this.linesRead;
    for (let k = 0; k < odds; k += 3) {
      const column = this.odd[k]!;
      this.words!.store(bytes, column, this.odd[k + 1]!, this.odd[k + 2]!, row, here);
      if (target.skipped[column] === 1) continue;
      const value = target.values[column]![row]!;
      block[column * stride + inBlock] = value;
      if (Number.isNaN(value)) target.gaps[column] = 1;
    }
    target.lines.note(row, here);
    if (this.rowsRead++ === 0) this.firstLine = here;
    this.linesRead++;
    this.next++;
    if (++this.inBlock === this.block.rows) this.flush();
    return end;
  }

  /**
   * Reads the cells of one row into row `inBlock` of the block, and notes the odd ones. Returns the index of the byte that
   * ends the line, -1 when the row is not regular. A function of its own: a loop over rows would be compiled while it runs,
   * before the engine has seen its end, and thrown away at the end of each piece.
   */
  private row(bytes: Uint8Array, start: number, inBlock: number): number {
    const { delimiter, decimal, blank, odd, dateColumn, plainDecimal, stampColumn, rowWidth, named } = this;
    const { values: block, stride } = this.block;
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

  /** Only where a window holds no more than a record may. */
  private openFast(): FastRows | undefined {
    const form = this.lineBytes >= WINDOW ? rowFormOf(this.layout) : undefined;
    return form === undefined ? undefined : FastRows.open(form, this.target.direct);
  }

  /** Notes which columns that are passed over hold a number in this row of the block. */
  private seeSkipped(inBlock: number): void {
    const { target } = this;
    const { values: block, stride } = this.block;
    if (this.layout.skipped === undefined) return;
    for (let column = 0; column < this.rowWidth; column++)
      if (target.skipped[column] === 1 && !Number.isNaN(block[column * stride + inBlock]!)) target.seen[column] = 1;
  }

  private grow(): boolean {
    // What grows is copied, so it has to be complete.
    this.flush();
    const { direct } = this.target;
    const room = this.target.ensure();
    // The target may have taken the rows away.
    this.next = this.target.rows;
    // The columns lie elsewhere now: their old memory is let go, unless compiled code was given up before.
    if (direct !== undefined && this.target.direct === undefined && this.fast !== undefined) {
      this.fast = this.openFast();
      this.block = new RowBlock(this.named, this.fast);
    }
    return room;
  }

  /** Copies the rows in the block to the end of the columns, and tells the target how many rows there are. */
  private flush(): void {
    const { target, fast, inBlock } = this;
    if (inBlock > 0) this.block.copy(inBlock, target, this.next - inBlock);
    this.inBlock = 0;
    if (fast !== undefined) {
      for (let column = 0; column < target.values.length; column++) {
        if (fast.gaps[column] === 1) target.gaps[column] = 1;
        if (fast.seen[column] === 1) target.seen[column] = 1;
      }
    }
    target.rows = this.next;
  }

  /** The row's time stands in an odd cell that can be read. */
  private timedByText(bytes: Uint8Array, row: number): boolean {
    for (let k = 0; k < this.odds; k += 3)
      if (this.odd[k] === this.timeColumn) return this.words!.isTime(bytes, this.odd[k + 1]!, this.odd[k + 2]!, row);
    return false;
  }

  private anyNumber(inBlock: number): boolean {
    const width = Math.min(this.layout.rowWidth, this.layout.labels.length);
    const { values, stride } = this.block;
    for (let column = 0; column < width; column++) if (!Number.isNaN(values[column * stride + inBlock]!)) return true;
    return false;
  }
}
