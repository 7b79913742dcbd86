import { ColumnMemory } from './column-memory.js';
import type { DirectColumns } from './fast-rows.js';

/**
 * Share of the rows that the first thread reads, while the second counts them (measured); less where the first also hashes all
 * bytes. To it come the bytes that it reads while the second thread starts.
 */
const FIRST_SHARE = { alone: 0.535, hashing: 0.405 };
const STARTING = 3.5e6;
/** Of a small file, which only tests read with two threads. */
const MOST_STARTING = 0.04;
/** Room behind the share, since rows differ in length, and how much less than it a counted number of rows may be. */
const ROOM = 0.01;
const LEAST = 0.6;
/** What stands in {@link SharedColumns.border}. */
const OPEN = 0;
const SHUT = -1;

/**
 * Columns of a table in memory that two threads write: the first up to the border, the second from there on. The border is
 * `firstRow`, unless the second thread has counted in time how many rows come before its own: then it is that number, and
 * nothing has to be moved together in the end.
 */
export class SharedColumns {
  readonly values: SharedArrayBuffer;
  /** Byte of the first column there, and doubles from one column to the next. */
  readonly at: number;
  readonly stride: number;
  /** One Int32: the number of rows that was counted, {@link OPEN} before, {@link SHUT} when the first thread needs the room. */
  readonly border = new SharedArrayBuffer(4);
  readonly firstRow: number;

  private readonly memory: ColumnMemory | undefined;

  constructor(
    width: number,
    readonly capacity: number,
    /** Bytes of the table, and whether the first thread hashes all of them. */
    private readonly bytes: number,
    private readonly hashing: boolean,
    inPlaceBytes: number,
  ) {
    this.memory = ColumnMemory.open(width, capacity, 2, inPlaceBytes);
    this.values =
      (this.memory?.memory.buffer as SharedArrayBuffer | undefined) ?? new SharedArrayBuffer(width * capacity * 8);
    this.at = this.memory?.at ?? 0;
    this.stride = this.memory?.stride ?? capacity;
    this.firstRow = Math.ceil(capacity * (this.share + ROOM));
  }

  /** Byte of the file where the second thread begins, of a table that begins at byte `start`. */
  splitOf(start: number): number {
    return start + Math.floor(this.bytes * this.share);
  }

  /** Rows that the first thread may write as long as it does not know the border. */
  get certain(): number {
    return Math.floor(this.firstRow * LEAST);
  }

  /** Settles the border, from the first thread: rows that it may write. */
  settle(): number {
    const counted = Atomics.compareExchange(new Int32Array(this.border), 0, OPEN, SHUT);
    return counted > 0 ? counted : this.firstRow;
  }

  private get share(): number {
    const share = this.hashing ? FIRST_SHARE.hashing : FIRST_SHARE.alone;
    return share + Math.min(MOST_STARTING, STARTING / this.bytes);
  }

  columnTo(index: number, rows: number): Float64Array {
    return new Float64Array(this.values, this.at + index * this.stride * 8, rows);
  }

  /** For the thread (0 = the first, 1 = the second) that writes from `row` on. */
  direct(thread: 0 | 1, row: number): DirectColumns | undefined {
    return this.memory?.direct(thread, row);
  }
}

/**
 * Settles the border, from the second thread. @param counted rows before its own; 0 = not known
 * @returns the row at which it begins to write.
 */
export function borderAt(border: SharedArrayBuffer, firstRow: number, counted: number): number {
  if (counted < firstRow * LEAST || counted > firstRow) return firstRow;
  return Atomics.compareExchange(new Int32Array(border), 0, OPEN, counted) === OPEN ? counted : firstRow;
}
