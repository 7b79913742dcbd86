import { type DirectColumns, FeedCounter, useRowsModule } from './fast-rows.js';
import type { Layout } from './layout.js';
import { lastLineEnd } from './record.js';
import { type LineRuns, RowLines } from './row-lines.js';
import { Scanner, type ScanTarget } from './scanner.js';
import { borderAt } from './shared-columns.js';

const LF = 10;

/** Part of a file that a second thread reads into memory that it shares with the first. */
export interface RegionJob {
  readonly layout: Layout;
  /** Byte of the file at which the first row of the table begins. */
  readonly begin: number;
  /** Byte of the file from which the next line is the first of the region. */
  readonly from: number;
  /** Doubles, column after column. */
  readonly values: SharedArrayBuffer;
  /** Byte of the first column, and doubles from one column to the next. */
  readonly at: number;
  readonly stride: number;
  /** Where the compiled row reader of the second thread may work, with the first row of the table. */
  readonly direct?: DirectColumns;
  /** Settles the row from which the region fills: `firstRow`, or less. See {@link borderAt}. */
  readonly border: SharedArrayBuffer;
  readonly capacity: number;
  readonly firstRow: number;
  readonly lineBytes: number;
  /** The compiled row reader of the first thread, so that it need not be compiled again. */
  readonly module?: WebAssembly.Module;
}

/** What was read: rows of the bytes from `start` up to `end`, which are `lineCount` lines. No rows = nothing. */
export interface RegionResult {
  /** Where the region begins to fill the shared columns. */
  readonly firstRow: number;
  readonly start: number;
  readonly end: number;
  readonly rows: number;
  readonly lineCount: number;
  /** The lines of its rows, both from 0. */
  readonly lines: LineRuns;
  /** 1 = the column holds a cell without a number. */
  readonly gaps: Uint8Array;
  /** 1 = the column is passed over and held something. */
  readonly seen: Uint8Array;
}

/** The file as the second thread reads it. */
export interface RegionFile {
  /** Its bytes in pieces, from one on. */
  readonly pieces: (from: number) => AsyncIterable<Uint8Array>;
  /** Fills the array with the bytes from one on. @returns how many there were. @throws the error of the file system. */
  readonly fill: (into: Uint8Array, from: number) => number;
}

/** A second thread, given by the platform. */
export interface RegionHelper {
  /** Bytes of a file from which it pays. */
  readonly minimum: number;
  /** Called as soon as it is likely to be needed, so that it can start meanwhile. */
  warm(): void;
  /** Runs {@link scanRegion} on the same file. May reject: then the first thread reads everything. */
  scan(job: RegionJob): Promise<RegionResult>;
  /** The bytes of the file from one on, for the first thread, which then hashes them while it waits for the second. */
  bytes?(from: number): AsyncIterable<Uint8Array>;
  /** Called when it is not needed any more. */
  close(): void;
}

/** Rows of numbers only, up to the end of the room: everything else is left to the first thread. */
class SharedTarget implements ScanTarget {
  readonly values: Float64Array[];
  readonly lines = new RowLines();
  readonly gaps: Uint8Array;
  readonly skipped: Uint8Array;
  readonly seen: Uint8Array;
  rows = 0;
  readonly capacity: number;
  readonly direct: DirectColumns | undefined;

  constructor({ layout, values, at, stride, capacity, direct }: RegionJob, firstRow: number) {
    const width = layout.labels.length;
    this.gaps = new Uint8Array(width);
    this.skipped = layout.skipped ?? new Uint8Array(width);
    this.seen = new Uint8Array(width);
    this.capacity = capacity - firstRow;
    this.values = layout.labels.map(
      (_, i) => new Float64Array(values, at + (i * stride + firstRow) * 8, this.capacity),
    );
    this.direct = direct === undefined ? undefined : { ...direct, at: direct.at + 8 * firstRow };
  }

  ensure(): boolean {
    return this.rows < this.capacity;
  }
}

/**
 * Reads the region from the bytes of the file from `job.from` on. Stops before the first record that is no plain row of
 * numbers. Whether `start` begins a record only the first thread can know.
 */
export async function scanRegion(job: RegionJob, file: RegionFile): Promise<RegionResult> {
  if (job.module !== undefined) useRowsModule(job.module, job.direct !== undefined);
  const firstRow = borderAt(job.border, job.firstRow, rowsBefore(job, file));
  const target = new SharedTarget(job, firstRow);
  const scanner = new Scanner(job.layout, target, undefined, job.lineBytes);
  let position = job.from;
  let start = -1;
  let lines = 0;
  let buffer = new Uint8Array(0);
  let held = 0;
  /** Bytes and what is left of them, at the start of the buffer. False when the rest is not plain. */
  const take = (bytes: Uint8Array): boolean => {
    const limit = lastLineEnd(bytes);
    const used = scanner.run(bytes, 0, limit, lines);
    lines += scanner.linesRead;
    position += used;
    held = bytes.length - used;
    if (held > buffer.length) buffer = new Uint8Array(held * 2);
    buffer.set(bytes.subarray(used));
    return used > limit && held <= job.lineBytes;
  };
  const joined = (bytes: Uint8Array): Uint8Array => {
    const length = held + bytes.length;
    if (length > buffer.length) {
      const wider = new Uint8Array(length * 2);
      wider.set(buffer.subarray(0, held));
      buffer = wider;
    }
    buffer.set(bytes, held);
    return buffer.subarray(0, length);
  };
  for await (const piece of file.pieces(job.from)) {
    let bytes = new Uint8Array(piece.buffer, piece.byteOffset, piece.length);
    const feed = bytes.indexOf(LF);
    if (start < 0) {
      position += feed < 0 ? bytes.length : feed + 1;
      if (feed < 0) continue;
      start = position;
      bytes = bytes.subarray(feed + 1);
    } else if (held > 0 && feed >= 0) {
      // The row that was cut is read alone: the rest of the piece can stay where it is.
      if (!take(joined(bytes.subarray(0, feed + 1)))) break;
      bytes = bytes.subarray(feed + 1);
    }
    if (!take(held === 0 ? bytes : joined(bytes))) break;
  }
  const { rows, gaps, seen } = target;
  return { firstRow, start, end: position, rows, lineCount: lines, lines: target.lines.runs, gaps, seen };
}

/**
 * Rows before the region where each is one line, 0 when they cannot be counted fast. Counting the bytes again costs less than
 * moving all rows of the region together afterwards.
 */
function rowsBefore({ begin, from }: RegionJob, file: RegionFile): number {
  const counter = FeedCounter.open();
  if (counter === undefined) return 0;
  const { window } = counter;
  let rows = 1;
  for (let at = begin; at < from; ) {
    const bytes = window.subarray(0, Math.min(window.length, from - at));
    const length = file.fill(bytes, at);
    if (length === 0) return 0;
    rows += counter.count(length);
    at += length;
  }
  return rows;
}
