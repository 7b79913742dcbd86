/** Places on the board, each an Int32. */
const NEXT = 0;
const STOP = 1;
const BEGUN = 2;
const FIRST_ROW = 3;
/** What stands in {@link FIRST_ROW} beside a row plus 1. */
const UNKNOWN = 0;
const NEVER = -1;
/** How often to look for a row before waiting: some 0.05 ms. */
const LOOKS = 5000;

/**
 * What two threads that read the chunks of a table in turn tell each other: who takes which chunk, and at which row it begins.
 * A chunk counts when it, and all before it, hold nothing but plain rows.
 */
export class ChunkBoard {
  private readonly places: Int32Array;

  constructor(
    readonly buffer: SharedArrayBuffer,
    readonly chunks: number,
  ) {
    this.places = new Int32Array(buffer);
  }

  static of(chunks: number): ChunkBoard {
    return new ChunkBoard(new SharedArrayBuffer(4 * (FIRST_ROW + chunks + 1)), chunks);
  }

  /** Begins anew with `chunk`, whose first row is `row`. Nobody may be at work. */
  begin(chunk: number, row: number): void {
    this.places.fill(UNKNOWN, FIRST_ROW);
    this.places[NEXT] = chunk;
    this.places[STOP] = this.chunks;
    this.places[FIRST_ROW + chunk] = row + 1;
    // Last: a second thread that comes late may come just now.
    Atomics.store(this.places, BEGUN, 0);
  }

  /** Called by the second thread before its first chunk. @returns false when it comes too late. */
  join(): boolean {
    return Atomics.compareExchange(this.places, BEGUN, 0, 1) === 0;
  }

  /** Called by the first thread when no chunk is left. @returns whether the second one took part. */
  shut(): boolean {
    return Atomics.compareExchange(this.places, BEGUN, 0, 1) === 1;
  }

  /** The next chunk, -1 when none is left. */
  claim(): number {
    const chunk = Atomics.add(this.places, NEXT, 1);
    return chunk < this.stop ? chunk : -1;
  }

  /** The first chunk that does not count. */
  get stop(): number {
    return Atomics.load(this.places, STOP);
  }

  /** Chunks that were taken so far, of those that may count. */
  get taken(): number {
    return Math.min(Atomics.load(this.places, NEXT), this.stop);
  }

  /**
   * The row at which the chunk begins; -1 = it does not count, undefined = not known yet.
   * @param wait ms that may be waited for it; 0 = a moment only
   */
  firstRow(chunk: number, wait: number): number | undefined {
    const place = FIRST_ROW + chunk;
    let row = Atomics.load(this.places, place);
    // The thread that knows it is about to tell it: to be woken would take longer.
    for (let look = 0; look < LOOKS && row === UNKNOWN; look++) row = Atomics.load(this.places, place);
    if (row === UNKNOWN && wait > 0) {
      Atomics.wait(this.places, place, UNKNOWN, wait);
      row = Atomics.load(this.places, place);
    }
    if (row === NEVER || chunk >= this.stop) return -1;
    return row === UNKNOWN ? undefined : row - 1;
  }

  /** Says at which row the chunk begins. */
  tellFirstRow(chunk: number, row: number): void {
    this.put(chunk, row + 1);
  }

  /** Says that the chunk does not count, and so none behind it. */
  refuse(chunk: number): void {
    let stop = this.stop;
    while (chunk < stop) {
      const seen = Atomics.compareExchange(this.places, STOP, stop, chunk);
      if (seen === stop) break;
      stop = seen;
    }
    this.put(chunk + 1, NEVER);
  }

  /** When both threads are done: the first chunk that does not count, and the row at which it begins. */
  settle(): { readonly chunk: number; readonly row: number } {
    let chunk = this.stop;
    while (this.places[FIRST_ROW + chunk]! <= 0) chunk--;
    return { chunk, row: this.places[FIRST_ROW + chunk]! - 1 };
  }

  private put(chunk: number, value: number): void {
    Atomics.store(this.places, FIRST_ROW + chunk, value);
    Atomics.notify(this.places, FIRST_ROW + chunk);
  }
}
