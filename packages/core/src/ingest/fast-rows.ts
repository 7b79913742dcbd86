import type { Layout } from './layout.js';
import { ROWS_MODULE } from './rows-module.js';

/** Bytes that are scanned at a time: they stay in the caches. */
export const WINDOW = 128 << 10;
/** What each instance of the compiled module keeps for itself (powers of ten, and what it settles on). */
export const OWN_BYTES = 4096;
/** Bytes before and behind the window that may be read with it. */
const SLACK = 64;
const PAGE = 65_536;
/** Doubles between the columns of a block: with powers of two apart, all columns would share a few lines of the cache. */
const APART = 8;

/** Values of one block: it stays in the first caches while its rows are read, and goes to the columns as runs. */
const BLOCK_VALUES = 6144;
const LEAST_ROWS = 4;

/** Rows of a block of `width` columns. */
export function blockRowsOf(width: number): number {
  return Math.max(LEAST_ROWS, Math.min(256, Math.floor(BLOCK_VALUES / width)));
}

/** Not so wide that a block would leave the caches. */
function fitsBlock(width: number): boolean {
  return LEAST_ROWS * width <= 2 * BLOCK_VALUES;
}

/** Bytes that one reader works with: its own, the block, the window and the list of its cells. */
export function scratchBytes(width: number): number {
  const { end } = placesOf(0, width);
  return Math.ceil(end / PAGE) * PAGE;
}

function placesOf(at: number, width: number) {
  const block = at + OWN_BYTES;
  const gaps = block + 8 * (blockRowsOf(width) + APART) * width;
  const window = (gaps + 3 * width + SLACK + 15) & ~15;
  const index = window + WINDOW + 2 * SLACK;
  return { block, gaps, window, index, end: index + 4 * WINDOW + SLACK };
}

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

const TAB = 9;
const SPACE = 32;

/** Undefined where a table has other rows than compiled code reads: stamps, or columns that rows may lack. */
export function rowFormOf({ time, labels, rowWidth, delimiter, decimal, skipped }: Layout): RowForm | undefined {
  const timed = time.column >= 0 && time.scale !== 0 && time.dateColumn < 0;
  // A comma that separates cells is a decimal sign inside quotes only.
  if (rowWidth !== labels.length || !timed || decimal === delimiter || !fitsBlock(rowWidth)) return undefined;
  const between = delimiter.charCodeAt(0);
  return {
    width: rowWidth,
    delimiter: between,
    decimal: decimal.charCodeAt(0),
    // A tab between cells is never a blank inside one.
    blank: between === TAB ? SPACE : TAB,
    timeColumn: time.column,
    ...(skipped === undefined ? {} : { skipped }),
  };
}

/** Where compiled code leaves the rows: column after column, `stride` doubles from one to the next. */
export interface DirectColumns {
  readonly memory: WebAssembly.Memory;
  /** Byte from which one thread may keep what it works with. */
  readonly scratch: number;
  /** Byte of the first row of the first column. */
  readonly at: number;
  readonly stride: number;
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

/** Of a module whose memory is its own, and of one whose memory threads share. */
const compiled: Record<'own' | 'shared', WebAssembly.Module | null | undefined> = { own: undefined, shared: undefined };

/**
 * Rows of plain numbers, read by compiled code (`packages/core/assembly/rows.ts`) from a window of bytes into a block of
 * doubles. It takes a row only when each cell is a number of at most 15 digits or empty, with or without blanks and quotes;
 * what it takes is what the scanner would read.
 */
export class FastRows {
  /** Doubles of the block: column after column, {@link stride} of each, of which {@link blockRowsOf} are filled. */
  readonly block: Float64Array;
  /** 1 = the column holds an empty cell. */
  readonly gaps: Uint8Array;
  /** 1 = the column is passed over and held something. */
  readonly seen: Uint8Array;
  /** Doubles from one column to the next. */
  readonly stride: number;
  private readonly skipped: Uint8Array;
  /** Bytes of the file; who does not fill it himself leaves it to {@link read}. */
  readonly window: Uint8Array;
  private readonly rows: Rows;
  private readonly rowsDone: () => number;
  private readonly lines: () => number;
  private readonly index: Index;
  private readonly windowAt: number;
  private readonly indexAt: number;
  private from = 0;
  private to = 0;
  private limit = -1;

  private constructor(
    module: WebAssembly.Module,
    private readonly form: RowForm,
    direct: DirectColumns | undefined,
  ) {
    const { width } = form;
    this.stride = blockRowsOf(width) + APART;
    const { block, gaps, window, index, end } = placesOf(direct?.scratch ?? 0, width);
    const pages = Math.ceil(end / PAGE);
    const memory = direct?.memory ?? new WebAssembly.Memory({ initial: pages, maximum: pages });
    const { exports } = new WebAssembly.Instance(module, { env: { memory } });
    if (direct !== undefined) (exports.place as (at: number) => void)(direct.scratch);
    this.rows = exports.rows as Rows;
    this.rowsDone = exports.rowsDone as () => number;
    this.lines = exports.lines as () => number;
    this.index = exports.index as Index;
    this.windowAt = window;
    this.indexAt = index;
    this.block = new Float64Array(memory.buffer, block, this.stride * width);
    this.gaps = new Uint8Array(memory.buffer, gaps, width);
    this.skipped = new Uint8Array(memory.buffer, gaps + width, width);
    this.seen = new Uint8Array(memory.buffer, gaps + 2 * width, width);
    // Another may have worked here before.
    this.gaps.fill(0);
    this.seen.fill(0);
    if (form.skipped !== undefined) this.skipped.set(form.skipped);
    this.window = new Uint8Array(memory.buffer, window, WINDOW);
  }

  /**
   * Undefined where compiled code is not to be had (an old engine, a page that forbids it).
   * @param direct columns that are written to without the block, see {@link readDirect}
   */
  static open(form: RowForm, direct?: DirectColumns): FastRows | undefined {
    const module = rowsModule(direct !== undefined && isShared(direct.memory));
    if (module === undefined) return undefined;
    try {
      return new FastRows(module, form, direct);
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
    return this.readTo(bytes, at, end, this.block.byteOffset + 8 * inBlock, this.stride, most);
  }

  /** The same, to row `row` of the columns themselves. */
  readDirect(bytes: Uint8Array, at: number, end: number, direct: DirectColumns, row: number, most: number): number {
    return this.readTo(bytes, at, end, direct.at + 8 * row, direct.stride, most);
  }

  /** Lists the lines of the window from `start` up to `limit`, the last line feed. @returns how many, -1 = not all are rows */
  list(start: number, limit: number): number {
    const { windowAt } = this;
    this.index(windowAt + start, windowAt + limit, this.indexAt, this.form.delimiter, this.form.width);
    this.from = start;
    return this.lines();
  }

  /** Reads `count` of the lines that were listed to row `row` of the columns. False when one holds anything but numbers. */
  take({ at, stride }: DirectColumns, row: number, count: number): boolean {
    let start = this.windowAt + this.from;
    for (let done = 0; done < count; done += this.taken) {
      start = this.call(start, count - done, at + 8 * (row + done), stride);
      if (this.taken === 0) return false;
    }
    return true;
  }

  private readTo(bytes: Uint8Array, at: number, end: number, to: number, stride: number, most: number): number {
    if (!(at >= this.from && at <= this.limit) && !this.fill(bytes, at, end)) return at;
    const { windowAt, from } = this;
    return this.call(windowAt + at - from, most, to, stride) - windowAt + from;
  }

  private call(start: number, most: number, to: number, stride: number): number {
    const { form } = this;
    return this.rows(
      start,
      most,
      to,
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
  }

  get taken(): number {
    return this.rowsDone();
  }

  /** The next window, up to its last line feed. False when it holds none: a long line, or other line ends. */
  private fill(bytes: Uint8Array, at: number, end: number): boolean {
    this.from = at;
    this.to = Math.min(end + 1, at + WINDOW);
    this.window.set(bytes.subarray(at, this.to));
    const feed = this.window.lastIndexOf(10, this.to - at - 1);
    this.limit = feed < 0 ? -1 : at + feed;
    if (feed >= 0) {
      const { delimiter, width } = this.form;
      this.index(this.windowAt, this.windowAt + feed, this.indexAt, delimiter, width);
    }
    return feed >= 0;
  }
}

const isShared = ({ buffer }: WebAssembly.Memory): boolean =>
  typeof SharedArrayBuffer !== 'undefined' && buffer instanceof SharedArrayBuffer;

/** The compiled code; undefined where there can be none. @param shared whether threads share its memory */
export function rowsModule(shared = false): WebAssembly.Module | undefined {
  const kind = shared ? 'shared' : 'own';
  if (compiled[kind] === undefined) compiled[kind] = compile(shared);
  return compiled[kind] ?? undefined;
}

/** Takes over what another thread has compiled. */
export function useRowsModule(module: WebAssembly.Module, shared: boolean): void {
  compiled[shared ? 'shared' : 'own'] ??= module;
}

/** Where the module imports its memory: "memory", kind 2 (memory), limits 1 (with a maximum), or 3 where it is shared. */
const IMPORTED = [...'memory'].map((char) => char.charCodeAt(0)).concat(2, 1);

function compile(shared: boolean): WebAssembly.Module | null {
  try {
    const text = atob(ROWS_MODULE);
    const code = Uint8Array.from(text, (char) => char.charCodeAt(0));
    if (shared) {
      const at = code.findIndex((_, k) => IMPORTED.every((byte, i) => code[k + i] === byte));
      if (at < 0) return null;
      code[at + IMPORTED.length - 1] = 3;
    }
    return new WebAssembly.Module(code);
  } catch {
    return null;
  }
}
