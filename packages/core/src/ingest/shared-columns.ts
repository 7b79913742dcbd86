/** Share of the rows that the first thread reads; less where it also hashes all bytes (measured). */
const FIRST_SHARE = { alone: 0.5, hashing: 0.4 };

/** Columns of a table in memory that two threads write: the first up to `firstRow`, the second from there on. */
export class SharedColumns {
  readonly values: SharedArrayBuffer;
  readonly lines: SharedArrayBuffer;
  readonly firstRow: number;

  constructor(
    width: number,
    readonly capacity: number,
    private readonly hashing: boolean,
  ) {
    this.values = new SharedArrayBuffer(width * capacity * 8);
    this.lines = new SharedArrayBuffer(capacity * 4);
    // Some room behind the share, since rows differ in length.
    this.firstRow = Math.ceil(capacity * (this.share + 0.01));
  }

  /** Byte of the file, between the start of the table and the end, where the second thread begins. */
  splitOf(start: number, size: number): number {
    return start + Math.floor((size - start) * this.share);
  }

  private get share(): number {
    return this.hashing ? FIRST_SHARE.hashing : FIRST_SHARE.alone;
  }

  columnTo(index: number, rows: number): Float64Array {
    return new Float64Array(this.values, index * this.capacity * 8, rows);
  }

  linesTo(rows: number): Uint32Array {
    return new Uint32Array(this.lines, 0, rows);
  }
}
