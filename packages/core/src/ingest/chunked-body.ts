import type { BodyReader } from './body.js';
import type { TableBuilder } from './builder.js';
import { ChunkBoard } from './chunk-board.js';
import {
  type ChunkFlags,
  type ChunkGrid,
  type ChunkJob,
  ChunkReader,
  chunkBegin,
  chunkGrid,
  type Fill,
  filled,
  lineBehind,
  PATIENCE,
} from './chunk-reader.js';
import { rowFormOf, rowsModule, WINDOW } from './fast-rows.js';
import type { Limits } from './limits.js';
import { tooLarge } from './text.js';

/**
 * A second thread, given by the platform, with the file that both read. The first thread may wait for it in `Atomics.wait`, for
 * some milliseconds at a time: it must be one that can (in a browser a worker, not the page).
 */
export interface ReadingHelper {
  /** Bytes of a file from which it pays. */
  readonly minimum: number;
  /** Called as soon as it is likely to be needed, so that it can start meanwhile. */
  warm(): void;
  /**
   * Runs {@link readChunks} on the same file: undefined when it came too late to read anything. May reject: then the first
   * thread reads everything.
   */
  scan(job: ChunkJob): Promise<ChunkFlags | undefined>;
  /** The file, for the first thread. */
  readonly fill: Fill;
  /** Its bytes from one on, for the first thread, which hashes them before it helps to read them. */
  bytes?(from: number): AsyncIterable<Uint8Array>;
  /** Lets timers and signals in, now and then. */
  turn(): Promise<void>;
  /** Told now and then up to which byte the file is read. */
  reached?(byte: number): void;
  /** Called when it is not needed any more. */
  close(): void;
}

/** Chunks, or windows, between two turns of the event loop: some 16 MB. */
const TURN = 128;
/**
 * Chunks that may hold anything but plain rows before it counts how many do, and the share of all that may. Chosen: both threads
 * meet again at each, which costs about as much as the chunk.
 */
const TRIES = 8;
const MOST_REFUSED = 0.125;

/**
 * The rows of a table, read by two threads in turn: each takes the next chunk of the file, counts its lines, and reads them to
 * the columns as soon as the thread with the chunk before has told at which row they begin. What is no plain row, and the end of
 * the file, goes to the reader of the body, in its turn: the table is the same as with one thread.
 */
export class ChunkedBody {
  private readonly board: ChunkBoard;
  private position: number;
  private readonly buffer = new Uint8Array(WINDOW);
  private windows = 0;
  /** What the second thread was asked and has not answered: it may come late, and then helps with what is read by then. */
  private asked: Promise<ChunkFlags | undefined> | undefined;
  /** It has failed, and is not asked again. */
  private failed = false;

  private constructor(
    private readonly builder: TableBuilder,
    private readonly body: BodyReader,
    private readonly helper: ReadingHelper,
    private readonly limits: Limits,
    private readonly grid: ChunkGrid,
    private readonly reader: ChunkReader,
    private readonly job: ChunkJob,
  ) {
    this.board = reader.board;
    this.position = grid.begin;
  }

  /**
   * Undefined where the table, or this engine, is not of the kind.
   * @param begin byte of the file at which the first row begins
   * @param size bytes of the file
   */
  static open(
    builder: TableBuilder,
    body: BodyReader,
    helper: ReadingHelper,
    limits: Limits,
    begin: number,
    size: number,
  ): ChunkedBody | undefined {
    const { layout, shared, capacity } = builder;
    const form = limits.lineBytes >= WINDOW ? rowFormOf(layout) : undefined;
    const grid = chunkGrid(begin, size, layout.rowBytes, limits.chunkBytes);
    const module = rowsModule(true);
    if (shared === undefined || form === undefined || grid === undefined || module === undefined) return undefined;
    const board = ChunkBoard.of(grid.count).buffer;
    const jobOf = (reader: 1 | 2): ChunkJob => {
      return { grid, form, direct: shared.direct(reader), capacity, board, module };
    };
    const reader = ChunkReader.open(jobOf(1), helper.fill);
    return reader === undefined ? undefined : new ChunkedBody(builder, body, helper, limits, grid, reader, jobOf(2));
  }

  /** @param meanwhile what the first thread does before it helps the second: tells how many bytes of the file count */
  async read(meanwhile: () => Promise<number>): Promise<void> {
    const { grid, builder } = this;
    let size = Number.POSITIVE_INFINITY;
    let before: (() => Promise<void>) | undefined = async () => {
      size = await meanwhile();
    };
    let refused = 0;
    for (let chunk = 0; chunk < grid.count; ) {
      // The columns may have grown, and lie elsewhere.
      if (builder.direct === undefined || refused > TRIES + MOST_REFUSED * chunk) break;
      const stop = await this.inTurn(chunk, before);
      before = undefined;
      if (stop < grid.count) refused++;
      chunk = stop;
      while (chunk < grid.count && !(await this.alone(chunk++)));
    }
    await before?.();
    await this.rest(size);
  }

  /** Chunks from `from` on, by both threads. @returns the first that is left */
  private async inTurn(from: number, before: (() => Promise<void>) | undefined): Promise<number> {
    const { board, reader, builder, helper, body } = this;
    reader.forget();
    board.begin(from, builder.rows);
    const other = this.ask();
    try {
      await before?.();
      await this.ownShare();
    } catch (error) {
      // The second thread must not wait for chunks that this one will not read.
      board.refuse(from);
      throw error;
    }
    const tookPart = board.shut();
    const flags = tookPart ? await other : undefined;
    if (flags !== undefined) this.asked = undefined;
    // It has failed: what it read is not known to be whole.
    else if (tookPart) board.refuse(from);
    const { chunk, row } = board.settle();
    if (chunk === from) return chunk;
    const count = row - builder.rows;
    builder.adopt(count, body.skip(count), flagsBefore(chunk, [reader.flags, flags]));
    const next = chunkBegin(this.grid, chunk) - 1;
    const length = filled(helper.fill, this.buffer, next);
    const behind = lineBehind(this.buffer, 0, length);
    // None: the file has been cut meanwhile.
    this.position = next + (behind < 0 ? length : behind);
    return chunk;
  }

  private async ownShare(): Promise<void> {
    const { board, reader, helper } = this;
    for (let claim = reader.begin(); claim !== undefined; claim = reader.begin()) {
      let row = reader.place(claim, 0);
      while (row === undefined) {
        // The second thread had the chunk before.
        if (this.failed) board.refuse(claim.chunk);
        else await helper.turn();
        row = reader.place(claim, PATIENCE);
      }
      reader.end(claim, row);
      if (++this.windows % TURN === 0) await this.turn(chunkBegin(this.grid, board.taken));
    }
  }

  private ask(): Promise<ChunkFlags | undefined> | undefined {
    if (this.failed) return undefined;
    this.asked ??= this.helper.scan(this.job).then(
      (flags) => {
        // It came when no chunk was left.
        if (flags === undefined) this.asked = undefined;
        return flags;
      },
      () => {
        this.failed = true;
        return undefined;
      },
    );
    return this.asked;
  }

  /** One chunk by the reader of the body. @returns whether the next one can be read in turn again */
  private async alone(chunk: number): Promise<boolean> {
    const { body, helper, buffer } = this;
    const last = chunkBegin(this.grid, chunk + 1) - 1;
    // A line that began before has ended behind it: no line begins in it.
    if (this.position > last) return body.atRecord;
    for (;;) {
      const length = filled(helper.fill, buffer, this.position);
      const end = lineBehind(buffer, Math.max(0, last - this.position), length);
      body.push(buffer.subarray(0, end < 0 ? length : end));
      this.position += end < 0 ? length : end;
      if (++this.windows % TURN === 0) await this.turn(this.position);
      if (length === 0) return false;
      if (end >= 0) return body.atRecord;
    }
  }

  private async rest(size: number): Promise<void> {
    const { body, helper, buffer, limits } = this;
    for (;;) {
      const room = Math.max(0, Math.min(buffer.length, size - this.position));
      const length = filled(helper.fill, buffer.subarray(0, room), this.position);
      if (length === 0) break;
      this.position += length;
      if (this.position > limits.textBytes) throw tooLarge(limits);
      body.push(buffer.subarray(0, length));
      if (++this.windows % TURN === 0) await this.turn(this.position);
    }
    helper.reached?.(this.position);
  }

  private async turn(reached: number): Promise<void> {
    this.helper.reached?.(reached);
    await this.helper.turn();
  }
}

/** Of each column whether an empty cell, or something where it is passed over, was met before the chunk. */
function flagsBefore(chunk: number, threads: readonly (ChunkFlags | undefined)[]) {
  const met = (of: (flags: ChunkFlags) => Int32Array) => (column: number) =>
    threads.some((flags) => flags !== undefined && of(flags)[column]! < chunk);
  return { gap: met(({ gaps }) => gaps), seen: met(({ seen }) => seen) };
}
