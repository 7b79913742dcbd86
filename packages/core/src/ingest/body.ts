import type { TableBuilder } from './builder.js';
import { Fault } from './fault.js';
import { commentLength, isNumeric } from './head-record.js';
import type { Layout } from './layout.js';
import type { Limits } from './limits.js';
import { isNoSample, parseNumber } from './number-text.js';
import { afterRecord, breaksInside, lastLineEnd, recordEnd, splitCells } from './record.js';
import { Scanner } from './scanner.js';

const LF = 10;

/** Reads the rows of values from pieces of bytes into the builder. Keeps no more than one incomplete record. */
export class BodyReader {
  /** The incomplete record at the end of the last piece, at the start of a buffer that is used again and again. */
  private buffer: Uint8Array = new Uint8Array(0);
  private held = 0;
  private line: number;
  private readonly delimiter: number;
  private readonly scanner: Scanner | undefined;
  private shortRows = 0;
  private shortLine = 0;

  constructor(
    private readonly layout: Layout,
    private readonly decode: (bytes: Uint8Array) => string,
    private readonly limits: Limits,
    private readonly builder: TableBuilder,
    tolerant = false,
  ) {
    this.scanner = tolerant ? undefined : new Scanner(layout, builder, { builder, decode }, limits.lineBytes);
    this.line = layout.line;
    this.delimiter = layout.delimiter.charCodeAt(0);
  }

  push(piece: Uint8Array): void {
    // Always the same kind of array, also when a platform hands out its own.
    let bytes = new Uint8Array(piece.buffer, piece.byteOffset, piece.length);
    const feed = this.held === 0 ? -1 : bytes.indexOf(LF);
    if (feed >= 0 && this.held + feed < this.limits.lineBytes) {
      // The record that was cut is read alone: the rest of the piece can stay where it is, unless the record goes on.
      this.take(this.joined(bytes.subarray(0, feed + 1)));
      bytes = bytes.subarray(feed + 1);
    }
    this.take(this.held === 0 ? bytes : this.joined(bytes));
  }

  /** Reads what is complete and keeps the rest. */
  private take(bytes: Uint8Array): void {
    const used = this.read(bytes, false);
    // A copy: the source may use its buffer again.
    const left = bytes.length - used;
    this.reserve(left);
    this.buffer.set(bytes.subarray(used));
    this.held = left;
    if (left > this.limits.lineBytes) throw lineTooLong(this.line, this.limits);
  }

  /** What is held and the bytes in one run. New memory for each would cost more than the copy. */
  private joined(piece: Uint8Array): Uint8Array {
    const length = this.held + piece.length;
    this.reserve(length);
    this.buffer.set(piece, this.held);
    return this.buffer.subarray(0, length);
  }

  private reserve(length: number): void {
    if (length <= this.buffer.length) return;
    const wider = new Uint8Array(length + (length >> 2));
    wider.set(this.buffer.subarray(0, this.held));
    this.buffer = wider;
  }

  /** Everything given so far ended with a complete record. */
  get atRecord(): boolean {
    return this.held === 0;
  }

  /** Goes on behind rows that were read elsewhere. */
  skip(lines: number): number {
    const { line } = this;
    this.line += lines;
    return line;
  }

  /** Reads what is left. `damaged` = the file was cut by its compression. */
  end(damaged: boolean): void {
    this.read(this.buffer.subarray(0, this.held), true, damaged);
    this.held = 0;
    if (this.shortRows > 0) {
      const { labels, rowWidth } = this.layout;
      const all = rowWidth < labels.length;
      this.builder.tally.add(
        'short-rows',
        this.shortLine,
        0,
        () =>
          all
            ? `${this.shortRows} rows have fewer cells than the ${labels.length} columns named; the last columns got no samples there: check that names and values stand under each other`
            : `${this.shortRows} rows have fewer cells than the others; the missing cells are no samples`,
        this.shortRows,
      );
    }
  }

  private read(bytes: Uint8Array, last: boolean, damaged = false): number {
    const to = bytes.length;
    const limit = lastLineEnd(bytes);
    let at = 0;
    while (at < to) {
      at = this.scan(bytes, at, limit);
      if (at >= to) break;
      const end = recordEnd(bytes, at, to, this.delimiter, last);
      if (end < 0) break;
      if (end - at > this.limits.lineBytes) throw lineTooLong(this.line, this.limits);
      const next = afterRecord(bytes, end, to);
      this.record(bytes, at, end, last && next === end, damaged);
      this.line += 1 + breaksInside(bytes, at, end);
      at = next;
    }
    return at;
  }

  private scan(bytes: Uint8Array, at: number, limit: number): number {
    const { scanner, layout } = this;
    if (scanner === undefined) return at;
    const next = scanner.run(bytes, at, limit, this.line);
    if (scanner.rowsRead > 0 && layout.rowWidth < layout.labels.length) {
      if (this.shortRows === 0) this.shortLine = scanner.firstLine;
      this.shortRows += scanner.rowsRead;
    }
    this.line += scanner.linesRead;
    return next;
  }

  private record(bytes: Uint8Array, from: number, end: number, open: boolean, damaged: boolean): void {
    if (from === end) return;
    const { builder, layout, line } = this;
    const cells = splitCells(this.decode(bytes.subarray(from, end)), layout.delimiter);
    const verdict = this.judge(cells);
    if (verdict === 'blank') return;
    if (verdict === 'header') {
      builder.tally.add(
        'repeated-header',
        line,
        0,
        (count) => `the column names are repeated in ${count} further lines, which were left out`,
      );
      return;
    }
    if (verdict === 'other') {
      builder.tally.add(
        'skipped-lines',
        line,
        0,
        (count) => `${count} lines among or after the rows hold no values of this table and were left out`,
      );
      return;
    }
    let trusted = cells.length;
    if (open) trusted = this.trustedOfLast(cells, damaged);
    else if (cells.length < Math.max(layout.rowWidth, layout.labels.length)) this.noteShort(cells.length, line);
    if (cells.length > layout.labels.length) this.noteExtra(cells, line);
    builder.addRow(cells, line, trusted);
  }

  /** The last record has no line end: a cut cell in it is not a value. */
  private trustedOfLast(cells: readonly string[], damaged: boolean): number {
    const { rowWidth, lastDecimals } = this.layout;
    const width = cells.length;
    const lastCell = cells[width - 1]!;
    const mark = Math.max(lastCell.lastIndexOf('.'), lastCell.lastIndexOf(','));
    const decimals = mark < 0 ? 0 : lastCell.length - mark - 1;
    const cut =
      damaged ||
      width < rowWidth ||
      (width === rowWidth && lastDecimals > 0 && lastCell !== '' && decimals < lastDecimals);
    if (!cut) return width;
    this.builder.tally.add(
      'cut-row',
      this.line,
      width,
      () => `the file ends in the middle of a row after ${width} of ${rowWidth} cells; the last cell was set aside`,
    );
    return width - 1;
  }

  private noteShort(width: number, line: number): void {
    // A delimiter at the end of the other rows is not a cell.
    if (width >= this.layout.labels.length) return;
    if (this.shortRows === 0) this.shortLine = line;
    this.shortRows++;
  }

  private noteExtra(cells: readonly string[], line: number): void {
    for (let i = this.layout.labels.length; i < cells.length; i++) {
      if (cells[i] === '') continue;
      this.builder.tally.add(
        'extra-cells',
        line,
        i + 1,
        (count) =>
          `${count} rows have values beyond the last named column, which were left out: check that names and values stand under each other`,
      );
      return;
    }
  }

  private judge(cells: readonly string[]): 'row' | 'blank' | 'header' | 'other' {
    const { layout } = this;
    let said = 0;
    let numeric = 0;
    let named = 0;
    const width = Math.min(cells.length, layout.labels.length);
    for (let i = 0; i < width; i++) {
      const cell = cells[i]!;
      if (cell === '') continue;
      said++;
      if (!Number.isNaN(parseNumber(cell, layout.decimal))) numeric++;
      else if (cell === layout.labels[i] || (cell === layout.unitCells[i] && cell.length > 0)) named++;
    }
    const { column } = layout.time;
    if (said === 0) return column < 0 && cells.length > 1 ? 'row' : 'blank';
    const time = column < 0 ? '' : (cells[column] ?? '');
    if (time !== '' && (layout.time.scale === 0 ? isNumeric(time) : !Number.isNaN(parseNumber(time, layout.decimal))))
      return 'row';
    if (named >= 2 && named * 2 > said && numeric === 0) return 'header';
    if (named === 1 && said === 1 && width === 1) return 'header';
    if (column < 0)
      return numeric > 0 && cells.length * 2 >= layout.rowWidth && commentLength(cells[0]!, layout.delimiter) === 0
        ? 'row'
        : 'other';
    // A row whose time is missing or damaged, but which is a full row of values otherwise.
    const whole = cells.length >= layout.rowWidth && numeric > 0;
    if (time === '' || isNoSample(time)) return whole ? 'row' : 'other';
    // A word where the time stands: totals and remarks.
    if (!(time[0]! >= '0' && time[0]! <= '9')) return 'other';
    return whole && numeric * 2 >= said && said > 2 ? 'row' : 'other';
  }
}

export function lineTooLong(line: number, limits: Limits): Fault {
  return new Fault(
    'line-too-long',
    `a line is longer than ${limits.lineBytes} bytes; expected a table of short lines: export again as CSV`,
    line,
  );
}
