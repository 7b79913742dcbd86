import type { RawColumn } from '../recording/raw.js';
import { ColumnMemory } from './column-memory.js';
import { printable } from './encoding.js';
import type { DirectColumns } from './fast-rows.js';
import { Fault } from './fault.js';
import type { Layout } from './layout.js';
import type { Limits } from './limits.js';
import { isInfinite, isNoSample, numberShape, parseNumber, SHAPE } from './number-text.js';
import { RowLines } from './row-lines.js';
import { parseStamp } from './stamp.js';
import { keepStamp, type StampColumn, stampColumn } from './stamp-column.js';
import { Tally } from './tally.js';
import { numberWithUnit } from './unit-words.js';

/** Distinct texts that one column keeps. */
const MOST_TEXTS = 64;
/** Longest text that is kept as a state. */
const TEXT_LENGTH = 200;

/** What rows that were written to the columns hold, by column: an empty cell, or something where it is passed over. */
interface RowFlags {
  readonly gap: (column: number) => boolean;
  readonly seen: (column: number) => boolean;
}

/** Grows the columns of one table, row by row. */
export class TableBuilder {
  rows = 0;
  capacity: number;
  readonly width: number;
  readonly values: Float64Array[];
  readonly gaps: Uint8Array;
  /** 1 = the column is passed over, and 1 = it held something. */
  readonly skipped: Uint8Array;
  readonly seen: Uint8Array;
  readonly tally = new Tally();
  readonly stamps: StampColumn | undefined;
  readonly dates: StampColumn | undefined;
  /** The axis reports rows by their lines. */
  readonly lines = new RowLines();
  /** The memory of the columns where two threads can use it. */
  readonly shared: ColumnMemory | undefined;
  /** Where compiled code may write the columns itself, as long as they lie there. */
  direct: DirectColumns | undefined;
  private readonly texts: (Map<string, number> | undefined)[];
  private readonly codes: (Uint8Array | undefined)[];
  private readonly rejected: Float64Array;
  private readonly suffix: string[];
  private readonly suffixed: Float64Array;

  constructor(
    readonly layout: Layout,
    private readonly limits: Limits,
    estimate: number,
    /** Another thread helps to fill the columns, or will look at them: they lie in memory that need not be copied for it. */
    lent = false,
  ) {
    this.width = layout.labels.length;
    this.skipped = layout.skipped ?? new Uint8Array(this.width);
    this.seen = new Uint8Array(this.width);
    this.capacity = Math.max(64, Math.min(estimate, Math.floor(limits.cells / this.width)));
    const memory = ColumnMemory.open(this.width, this.capacity, lent, limits.inPlaceBytes);
    this.direct = memory?.direct(0);
    this.shared = lent ? memory : undefined;
    this.values = this.columnsIn(memory, lent);
    this.gaps = new Uint8Array(this.width);
    this.texts = new Array(this.width);
    this.codes = new Array(this.width);
    this.rejected = new Float64Array(this.width);
    this.suffix = new Array(this.width).fill('');
    this.suffixed = new Float64Array(this.width);
    const { time } = layout;
    if (time.column >= 0 && time.scale === 0) this.stamps = stampColumn(this.capacity);
    if (time.dateColumn >= 0) this.dates = stampColumn(this.capacity);
  }

  /** One piece of memory: each piece of its own size would wake the garbage collector. */
  private columnsIn(columns: ColumnMemory | undefined, lent: boolean): Float64Array[] {
    const { width, capacity } = this;
    const kept = this.skipped.reduce((count, skipped) => count + 1 - skipped, 0);
    const Memory = lent && typeof SharedArrayBuffer !== 'undefined' ? SharedArrayBuffer : ArrayBuffer;
    const memory = columns?.memory.buffer ?? new Memory(kept * capacity * 8);
    const { at, stride } = columns ?? { at: 0, stride: capacity };
    let place = 0;
    return Array.from({ length: width }, (_, i) => {
      if (this.skipped[i] === 1) return NOTHING;
      const column = columns === undefined ? place++ : i;
      return new Float64Array(memory, at + 8 * column * stride, capacity);
    });
  }

  /** Takes over rows that were written to the columns; the first stands in physical line `line`, the others behind it. */
  adopt(rows: number, line: number, { gap, seen }: RowFlags): void {
    for (let i = 0; i < this.width; i++) {
      if (gap(i)) this.gaps[i] = 1;
      if (seen(i)) this.seen[i] = 1;
    }
    if (rows > 0) this.lines.note(this.rows, line);
    this.rows += rows;
  }

  /** Makes room for one more row. */
  ensure(): boolean {
    if (this.rows >= this.capacity) this.grow();
    return true;
  }

  private grow(): void {
    const capacity = this.capacity * 2;
    if (capacity * this.width > this.limits.cells * 2) {
      throw new Fault(
        'too-large',
        `the table has more than ${this.limits.cells} cells; expected fewer: split the recording`,
      );
    }
    this.direct = undefined;
    this.widen(capacity, (i) => grown(this.values[i]!, capacity));
    for (const stamps of [this.stamps, this.dates]) {
      if (stamps === undefined) continue;
      stamps.day = grown(stamps.day, capacity);
      stamps.ab = grown(stamps.ab, capacity);
      stamps.seconds = grown(stamps.seconds, capacity);
    }
  }

  private widen(capacity: number, column: (index: number) => Float64Array): void {
    for (let i = 0; i < this.width; i++) {
      if (this.skipped[i] === 1) continue;
      this.values[i] = column(i);
      const codes = this.codes[i];
      if (codes === undefined) continue;
      const wider = new Uint8Array(capacity);
      wider.set(codes);
      this.codes[i] = wider;
    }
    this.capacity = capacity;
  }

  /** Stores a row of cells as text. The tolerant way; the scanner stores regular numbers itself. */
  addRow(cells: readonly string[], line: number, trusted: number): void {
    this.ensure();
    const row = this.rows;
    for (let i = 0; i < this.width; i++) this.setCell(i, row, i < trusted ? (cells[i] ?? '') : '', line);
    this.lines.note(row, line);
    this.rows = row + 1;
  }

  /** Takes over one cell, given as trimmed text. */
  setCell(column: number, row: number, cell: string, line: number): void {
    if (this.skipped[column] === 1) {
      if (cell !== '' && !isNoSample(cell)) this.seen[column] = 1;
      return;
    }
    const values = this.values[column]!;
    const codes = this.codes[column];
    if (codes !== undefined) codes[row] = 0;
    values[row] = NaN;
    this.gaps[column] = 1;
    const { time } = this.layout;
    if (this.stamps !== undefined && column === time.column) {
      this.setStamp(this.stamps, row, cell, line, column);
      return;
    }
    if (this.dates !== undefined && column === time.dateColumn) {
      this.setStamp(this.dates, row, cell, line, column);
      return;
    }
    if (cell === '') return;
    const number = parseNumber(cell, this.layout.decimal);
    if (!Number.isNaN(number)) values[row] = number;
    else this.setOdd(column, row, cell, line);
  }

  private setOdd(column: number, row: number, cell: string, line: number): void {
    if (isNoSample(cell)) return;
    const shape = numberShape(cell);
    if (shape !== SHAPE.none || isInfinite(cell)) {
      this.rejected[column]!++;
      if (shape === SHAPE.none || shape === SHAPE.integer) this.tally.add('not-finite', line, column + 1, notFinite);
      else this.tally.add('thousands-separator', line, column + 1, thousands);
      return;
    }
    const measured = numberWithUnit(cell);
    if (measured !== null) {
      const number = parseNumber(measured.number, this.layout.decimal);
      if (!Number.isNaN(number)) {
        if (this.suffix[column] === '') this.suffix[column] = measured.unit;
        if (this.suffix[column] === measured.unit) {
          this.values[column]![row] = number;
          this.suffixed[column]!++;
        } else {
          this.rejected[column]!++;
          this.tally.add('mixed-units', line, column + 1, mixedUnits);
        }
        return;
      }
    }
    this.setText(column, row, cell);
  }

  private setText(column: number, row: number, cell: string): void {
    const text = printable(cell.length > TEXT_LENGTH ? cell.slice(0, TEXT_LENGTH) : cell);
    if (text === '') return;
    let texts = this.texts[column];
    if (texts === undefined) {
      texts = new Map();
      this.texts[column] = texts;
      this.codes[column] = new Uint8Array(this.capacity);
    }
    let code = texts.get(text);
    if (code === undefined) {
      if (texts.size >= MOST_TEXTS) {
        this.rejected[column]!++;
        return;
      }
      code = texts.size + 1;
      texts.set(text, code);
    }
    this.codes[column]![row] = code;
  }

  /** True when the cell is a number as it stands (exponents included). */
  isNumber(cell: string): boolean {
    return !Number.isNaN(parseNumber(cell, this.layout.decimal));
  }

  /** Stores the row's time stamp when it can be read. */
  storeStamp(row: number, cell: string): boolean {
    const stamp = cell.length < 48 ? parseStamp(cell) : null;
    if (stamp === null) return false;
    keepStamp(this.stamps!, row, stamp);
    return true;
  }

  storeCode(column: number, row: number, code: number): void {
    this.codes[column]![row] = code;
  }

  codeAt(column: number, row: number): number {
    return this.codes[column]?.[row] ?? 0;
  }

  private setStamp(stamps: StampColumn, row: number, cell: string, line: number, column: number): void {
    stamps.day[row] = NaN;
    stamps.ab[row] = NaN;
    stamps.seconds[row] = NaN;
    if (cell === '' || isNoSample(cell)) return;
    const stamp = cell.length < 48 ? parseStamp(cell) : null;
    if (stamp === null) {
      this.rejected[column]!++;
      this.tally.add('time-unreadable', line, column + 1, unreadableTime);
      return;
    }
    keepStamp(stamps, row, stamp);
  }

  /** The columns, cut to the rows that were kept (`keep` = indexes of rows, or all). */
  finish(keep: Uint32Array | undefined): RawColumn[] {
    return this.layout.labels.map((label, index) => this.finishColumn(label, index, keep));
  }

  private passedOver(label: string, index: number): RawColumn {
    const { unitCells, sourceCells } = this.layout;
    return {
      index,
      label,
      unitCell: unitCells[index]!,
      sourceCell: sourceCells[index]!,
      values: NOTHING,
      texts: [],
      rejected: 0,
      filled: this.seen[index]!,
    };
  }

  private finishColumn(label: string, index: number, keep: Uint32Array | undefined): RawColumn {
    if (this.skipped[index] === 1) return this.passedOver(label, index);
    const values = kept(this.values[index]!, this.rows, keep);
    const texts = this.texts[index];
    const codes = this.codes[index];
    const { time } = this.layout;
    const stamps = index === time.column ? this.stamps : index === time.dateColumn ? this.dates : undefined;
    const seconds = stamps === undefined ? undefined : kept(stamps.seconds, this.rows, keep);
    const textCodes = texts === undefined || codes === undefined ? undefined : keptCodes(codes, this.rows, keep);
    const numbers = (): number =>
      (this.gaps[index] === 0 ? values.length : countNumbers(values)) +
      (seconds === undefined ? 0 : countNumbers(seconds));
    let unitCell = this.layout.unitCells[index]!;
    const suffixed = this.suffixed[index]!;
    if (suffixed > 0) {
      const filled = numbers();
      if (unitCell === '' && suffixed * 10 >= filled * 9) unitCell = this.suffix[index]!;
      else if (suffixed * 10 < filled * 9) this.tally.add('mixed-units', this.layout.line, index + 1, mixedUnits);
    }
    let counted: number | undefined;
    return {
      index,
      label,
      unitCell,
      sourceCell: this.layout.sourceCells[index]!,
      values,
      rejected: this.rejected[index]!,
      texts: textCodes === undefined ? [] : [...texts!.keys()],
      ...(textCodes === undefined ? {} : { textCodes }),
      // Counted when it is first asked for: of most columns it never is, and every cell has to be looked at.
      get filled() {
        counted ??= numbers() + (textCodes === undefined ? 0 : countCodes(textCodes));
        return counted;
      },
    };
  }
}

const NOTHING = new Float64Array(0);

const times = (count: number, what: string) => `${count} ${what}${count === 1 ? '' : 's'}`;
const thousands = (count: number) =>
  `${times(count, 'cell')} with thousands separators or the other decimal sign; expected plain numbers, so no sample was taken there: export without separators or state decimal in the map file`;
const notFinite = (count: number) =>
  `${times(count, 'cell')} infinite or beyond the number range; expected finite numbers, so no sample was taken there`;
const mixedUnits = (count: number) =>
  `${times(count, 'cell')} with a unit other than that of the rest of the column; expected one unit a column, so no sample was taken there: export with one unit`;
const unreadableTime = (count: number) =>
  `${times(count, 'time cell')} not readable as a time stamp that exists; expected stamps as in the other rows`;

function grown(values: Float64Array, capacity: number): Float64Array {
  const wider = new Float64Array(capacity);
  wider.set(values);
  return wider;
}

/** The first rows of a column, or those in `keep`: in its own memory, unless that has much more room. */
export function kept(values: Float64Array, rows: number, keep?: Uint32Array): Float64Array {
  if (keep === undefined) return rows * 1.25 >= values.length ? values.subarray(0, rows) : values.slice(0, rows);
  const out = new Float64Array(keep.length);
  for (let i = 0; i < keep.length; i++) out[i] = values[keep[i]!]!;
  return out;
}

/** NaN is no number. */
function countNumbers(values: Float64Array): number {
  let count = 0;
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) count++;
  return count;
}

function countCodes(codes: Uint8Array): number {
  let count = 0;
  for (let i = 0; i < codes.length; i++) if (codes[i] !== 0) count++;
  return count;
}

function keptCodes(codes: Uint8Array, rows: number, keep: Uint32Array | undefined): Uint8Array {
  if (keep === undefined) return codes.slice(0, rows);
  const out = new Uint8Array(keep.length);
  for (let i = 0; i < keep.length; i++) out[i] = codes[keep[i]!]!;
  return out;
}
