import { ROWS_MODULE } from './rows-module.js';

/** Bytes that are scanned at a time: they stay in the caches. */
export const WINDOW = 128 << 10;
/** What the compiled module keeps for itself (powers of ten) lies below. */
const BASE = 4096;
/** Bytes before and behind the window that may be read with it. */
const SLACK = 64;
const PAGE = 65_536;
/** Doubles between the columns of a block: with powers of two apart, all columns would share a few lines of the cache. */
const APART = 8;

/** How the cells of a row are written. */
export interface RowForm {
  readonly width: number;
  /** Character codes: between cells, decimal sign, and what may stand around a number besides the space. */
  readonly delimiter: number;
  readonly decimal: number;
  readonly blank: number;
  /** A row with no number here is left. */
  readonly timeColumn: number;
  /** 1 = the cells of the column are passed over. Absent = of none. */
  readonly skipped?: Uint8Array;
}

type Rows = (
  start: number,
  most: number,
  block: number,
  stride: number,
  width: number,
  delimiter: number,
  decimal: number,
  blank: number,
  timeColumn: number,
  gaps: number,
  skipped: number,
  seen: number,
) => number;

type Index = (start: number, limit: number, to: number, delimiter: number, width: number) => void;

let compiled: WebAssembly.Module | null | undefined;

/**
 * Rows of plain numbers, read by compiled code (`packages/core/assembly/rows.ts`) from a window of bytes into a block of
 * doubles. It takes a row only when each cell is a number of at most 15 digits or empty, with or without blanks and quotes;
 * what it takes is what the scanner would read.
 */
export class FastRows {
  /** Doubles of the block: column after column, {@link stride} of each, of which `blockRows` are filled. */
  readonly block: Float64Array;
  /** 1 = the column holds an empty cell. */
  readonly gaps: Uint8Array;
  /** 1 = the column is passed over and held something. */
  readonly seen: Uint8Array;
  /** Doubles from one column to the next. */
  readonly stride: number;
  private readonly skipped: Uint8Array;
  private readonly bytes: Uint8Array;
  private readonly rows: Rows;
  private readonly rowsDone: () => number;
  private readonly index: Index;
  private readonly windowAt: number;
  private readonly indexAt: number;
  private from = 0;
  private to = 0;
  private limit = -1;

  private constructor(
    module: WebAssembly.Module,
    private readonly form: RowForm,
    blockRows: number,
  ) {
    this.stride = blockRows + APART;
    const blockBytes = 8 * this.stride * form.width;
    const gapsAt = BASE + blockBytes;
    this.windowAt = (gapsAt + 3 * form.width + SLACK + 15) & ~15;
    this.indexAt = this.windowAt + WINDOW + 2 * SLACK;
    const pages = Math.ceil((this.indexAt + 4 * WINDOW + SLACK) / PAGE);
    const memory = new WebAssembly.Memory({ initial: pages, maximum: pages });
    const { exports } = new WebAssembly.Instance(module, { env: { memory } });
    this.rows = exports.rows as Rows;
    this.rowsDone = exports.rowsDone as () => number;
    this.index = exports.index as Index;
    this.block = new Float64Array(memory.buffer, BASE, this.stride * form.width);
    this.gaps = new Uint8Array(memory.buffer, gapsAt, form.width);
    this.skipped = new Uint8Array(memory.buffer, gapsAt + form.width, form.width);
    this.seen = new Uint8Array(memory.buffer, gapsAt + 2 * form.width, form.width);
    if (form.skipped !== undefined) this.skipped.set(form.skipped);
    this.bytes = new Uint8Array(memory.buffer, this.windowAt, WINDOW);
  }

  /** Undefined where compiled code is not to be had (an old engine, a page that forbids it). */
  static open(form: RowForm, blockRows: number): FastRows | undefined {
    const module = rowsModule();
    if (module === undefined) return undefined;
    try {
      return new FastRows(module, form, blockRows);
    } catch {
      // No memory of this kind is left.
      return undefined;
    }
  }

  /** Forgets the window: other bytes come. */
  reset(): void {
    this.from = 0;
    this.to = 0;
    this.limit = -1;
  }

  /**
   * Up to `most` rows of `bytes` from `at` into the block from its row `inBlock` on; `end` is the last line end.
   * @returns where the first row begins that was not taken; how many were is {@link taken}
   */
  read(bytes: Uint8Array, at: number, end: number, inBlock: number, most: number): number {
    if (!(at >= this.from && at <= this.limit) && !this.fill(bytes, at, end)) return at;
    const { form, windowAt, from, stride } = this;
    const next = this.rows(
      windowAt + at - from,
      most,
      BASE + 8 * inBlock,
      8 * stride,
      form.width,
      form.delimiter,
      form.decimal,
      form.blank,
      form.timeColumn,
      this.gaps.byteOffset,
      this.skipped.byteOffset,
      this.seen.byteOffset,
    );
    return next - windowAt + from;
  }

  get taken(): number {
    return this.rowsDone();
  }

  /** The next window, up to its last line feed. False when it holds none: a long line, or other line ends. */
  private fill(bytes: Uint8Array, at: number, end: number): boolean {
    this.from = at;
    this.to = Math.min(end + 1, at + WINDOW);
    this.bytes.set(bytes.subarray(at, this.to));
    const feed = this.bytes.lastIndexOf(10, this.to - at - 1);
    this.limit = feed < 0 ? -1 : at + feed;
    if (feed >= 0) {
      const { delimiter, width } = this.form;
      this.index(this.windowAt, this.windowAt + feed, this.indexAt, delimiter, width);
    }
    return feed >= 0;
  }
}

/** The compiled code; undefined where there can be none. */
export function rowsModule(): WebAssembly.Module | undefined {
  if (compiled === undefined) compiled = compile();
  return compiled ?? undefined;
}

/** Takes over what another thread has compiled. */
export function useRowsModule(module: WebAssembly.Module): void {
  compiled ??= module;
}

function compile(): WebAssembly.Module | null {
  try {
    const text = atob(ROWS_MODULE);
    return new WebAssembly.Module(Uint8Array.from(text, (char) => char.charCodeAt(0)));
  } catch {
    return null;
  }
}
