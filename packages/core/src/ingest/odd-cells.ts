import type { TableBuilder } from './builder.js';

/** Bytes of the text state that a column remembers. */
const CACHED = 32;

/** Takes over the cells that are no plain numbers: stamps, states, numbers in other words. States repeat: the last is remembered. */
export class OddCells {
  private readonly lastText: readonly Uint8Array[];
  private readonly lastLength: Int32Array;
  private readonly lastCode: Uint8Array;

  constructor(
    private readonly builder: TableBuilder,
    private readonly decode: (bytes: Uint8Array) => string,
    /** `stamped` = its cells are stamps, not numbers. */
    private readonly time: { readonly column: number; readonly stamped: boolean },
  ) {
    const { width } = builder;
    this.lastText = Array.from({ length: width }, () => new Uint8Array(CACHED));
    this.lastLength = new Int32Array(width).fill(-1);
    this.lastCode = new Uint8Array(width);
  }

  /** The time of a row stands in this cell (a stamp, an exponent) and can be read; a stamp is stored at once. */
  isTime(bytes: Uint8Array, from: number, end: number, row: number): boolean {
    const text = this.text(bytes, from, end);
    return this.time.stamped ? this.builder.storeStamp(row, text) : this.builder.isNumber(text);
  }

  store(bytes: Uint8Array, column: number, from: number, end: number, row: number, line: number): void {
    const { builder } = this;
    if (this.time.stamped && column === this.time.column) {
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
