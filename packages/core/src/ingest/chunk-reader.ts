import { ChunkBoard } from './chunk-board.js';
import { type DirectColumns, FastRows, type RowForm, useRowsModule, WINDOW } from './fast-rows.js';

const LF = 10;
/** Room behind a chunk for the line that ends there: so much, or so many usual lines, and never more than a part of the window. */
const LEAST_TAIL = 4096;
const TAIL_LINES = 8;
const MOST_TAIL = WINDOW >> 2;
/** How long to wait at a time for the thread that has the chunk before, ms. */
export const PATIENCE = 5;
/** Of a column that has no such cell. */
const NONE = 2 ** 31 - 1;

/** Where the chunks of a table lie in its file: chunk `k` are the lines that begin in the `k`th run of `bytes` bytes. */
export interface ChunkGrid {
  /** Byte of the file at which the first row of the table begins. */
  readonly begin: number;
  /** Bytes of a chunk, and how many more may be looked at for the end of its last line. */
  readonly bytes: number;
  readonly tail: number;
  /** Whole chunks of the file: what is behind them is not read in chunks. */
  readonly count: number;
}

/**
 * Undefined where lines are too long for it.
 * @param begin byte of the file at which the first row begins
 * @param size bytes of the file
 * @param rowBytes of a usual line
 * @param most bytes of a chunk; less where the window holds no more
 */
export function chunkGrid(begin: number, size: number, rowBytes: number, most: number): ChunkGrid | undefined {
  const tail = Math.max(LEAST_TAIL, Math.ceil(rowBytes * TAIL_LINES));
  if (tail > MOST_TAIL) return undefined;
  // One byte of the window is that before the chunk.
  const bytes = Math.min(Math.max(1, Math.floor(most)), WINDOW - 1 - tail);
  return { begin, bytes, tail, count: Math.max(0, Math.floor((size - begin) / bytes)) };
}

/** The first byte of the file that may begin a line of the chunk. */
export function chunkBegin({ begin, bytes }: ChunkGrid, chunk: number): number {
  return begin + chunk * bytes;
}

/** What a second thread needs to read chunks of a table in turn with the first. */
export interface ChunkJob {
  readonly grid: ChunkGrid;
  readonly form: RowForm;
  /** The shared columns, with the first row of the table, and where this thread may work. */
  readonly direct: DirectColumns;
  /** Rows for which there is room. */
  readonly capacity: number;
  /** See {@link ChunkBoard}. */
  readonly board: SharedArrayBuffer;
  /** The compiled row reader of the first thread, so that it need not be compiled again. */
  readonly module: WebAssembly.Module;
}

/**
 * Of each column the first chunk in which this thread met an empty cell (`gaps`), or something where it is passed over (`seen`);
 * 2^31 - 1 where it met none.
 */
export interface ChunkFlags {
  readonly gaps: Int32Array;
  readonly seen: Int32Array;
}

/** Fills the array with the bytes of a file from one on. @returns how many; 0 at its end. @throws the error of the file system. */
export type Fill = (into: Uint8Array, from: number) => number;

/** Reads chunks of plain rows straight into the columns. Each thread has one. */
export class ChunkReader {
  readonly flags: ChunkFlags;
  readonly board: ChunkBoard;

  private constructor(
    private readonly job: ChunkJob,
    private readonly rows: FastRows,
    private readonly fill: Fill,
  ) {
    const { width } = job.form;
    this.flags = { gaps: new Int32Array(width).fill(NONE), seen: new Int32Array(width).fill(NONE) };
    this.board = new ChunkBoard(job.board, job.grid.count);
  }

  /** Undefined where there is no memory for it. */
  static open(job: ChunkJob, fill: Fill): ChunkReader | undefined {
    useRowsModule(job.module, true);
    const rows = FastRows.open(job.form, job.direct);
    return rows === undefined ? undefined : new ChunkReader(job, rows, fill);
  }

  /** Forgets what was met so far. */
  forget(): void {
    for (const first of [this.flags.gaps, this.flags.seen]) first.fill(NONE);
    for (const met of [this.rows.gaps, this.rows.seen]) met.fill(0);
  }

  /** Takes the next chunk from the board and lists its lines. Undefined when none is left. */
  begin(): Claim | undefined {
    const chunk = this.board.claim();
    return chunk < 0 ? undefined : { chunk, count: this.list(chunk) };
  }

  /**
   * The row at which the chunk begins, once the thread with the chunk before has told; then it tells at which the next one does.
   * Undefined when it is not known yet, after `wait` ms; -1 when the chunk does not count.
   */
  place({ chunk, count }: Claim, wait: number): number | undefined {
    const { board } = this;
    const row = count < 0 ? -1 : board.firstRow(chunk, wait);
    if (row !== undefined && row >= 0) board.tellFirstRow(chunk + 1, row + count);
    return row;
  }

  /** Reads the lines to the columns from row `row` on; refuses the chunk where that is -1, or one of them is no plain row. */
  end({ chunk, count }: Claim, row: number): void {
    if (row < 0 || !this.take(chunk, row, count)) this.board.refuse(chunk);
  }

  /** How many lines the chunk has, -1 when there is one that is no row. */
  private list(chunk: number): number {
    const { grid } = this.job;
    const { window } = this.rows;
    // With the byte before, which may end the last line of the chunk before.
    const before = chunk === 0 ? 0 : 1;
    const room = before + grid.bytes + grid.tail;
    const length = filled(this.fill, window.subarray(0, room), chunkBegin(grid, chunk) - before);
    const first = chunk === 0 ? 0 : lineBehind(window, 0, length);
    const next = lineBehind(window, before + grid.bytes - 1, length);
    if (first < 0 || next < 0) return -1;
    return first === next ? 0 : this.rows.list(first, next - 1);
  }

  /** Reads what was listed to the columns from row `row` on. False when a line holds anything but numbers. */
  private take(chunk: number, row: number, count: number): boolean {
    const { rows, flags, job } = this;
    if (row + count > job.capacity || !rows.take(job.direct, row, count)) return false;
    note(rows.gaps, flags.gaps, chunk);
    note(rows.seen, flags.seen, chunk);
    return true;
  }
}

/** A chunk whose lines are listed. */
export interface Claim {
  readonly chunk: number;
  /** Its lines, -1 when one is no row. */
  readonly count: number;
}

/** The part of the second thread: reads chunks until none is left. Undefined when it came too late, or has no memory for it. */
export function readChunks(job: ChunkJob, fill: Fill): ChunkFlags | undefined {
  const reader = ChunkReader.open(job, fill);
  // Not before the reader is open: who opens one writes to the start of the memory, where nobody else may work then.
  if (reader === undefined || !reader.board.join()) return undefined;
  for (let claim = reader.begin(); claim !== undefined; claim = reader.begin()) {
    let row: number | undefined;
    while (row === undefined) row = reader.place(claim, PATIENCE);
    reader.end(claim, row);
  }
  return reader.flags;
}

/** As many bytes as there are. */
export function filled(fill: Fill, into: Uint8Array, from: number): number {
  let length = 0;
  while (length < into.length) {
    const count = fill(into.subarray(length), from + length);
    if (count === 0) break;
    length += count;
  }
  return length;
}

/** Index behind the first line feed from `from` on, -1 when there is none before `to`. */
export function lineBehind(bytes: Uint8Array, from: number, to: number): number {
  const at = bytes.indexOf(LF, from);
  return at < 0 || at >= to ? -1 : at + 1;
}

function note(flags: Uint8Array, first: Int32Array, chunk: number): void {
  for (let column = 0; column < flags.length; column++)
    if (flags[column] === 1 && first[column] === NONE) first[column] = chunk;
}
