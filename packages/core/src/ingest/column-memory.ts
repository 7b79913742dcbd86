import { offerRunScanner } from '../recording/compiled-runs.js';
import { openRunScanner, runScannerBytes } from './column-runs.js';
import { type DirectColumns, OWN_BYTES, scratchBytes } from './fast-rows.js';

const PAGE = 65_536;
/** Pages that compiled code can address. */
const MOST_PAGES = 65_536;
/** Doubles of a line of the cache, and of a page: columns whole pages apart would share lines. */
const LINE = 8;
const ALIASES = 512;

/** Readers of a memory that is shared: the scanner of the first thread, and one of chunks in each thread. */
const SHARED_READERS = 3;

/**
 * Columns in a memory that compiled code can write to, so that nothing has to be copied there, and the scratch of each thread
 * that does. Pages that nobody writes to cost nothing.
 */
export class ColumnMemory {
  private constructor(
    readonly memory: WebAssembly.Memory,
    private readonly width: number,
    /** Byte of the first column. */
    readonly at: number,
    readonly stride: number,
  ) {}

  /**
   * Undefined where it does not pay or is not to be had.
   * @param capacity rows
   * @param shared whether two threads use it
   * @param inPlaceBytes of columns, from which it pays
   */
  static open(width: number, capacity: number, shared: boolean, inPlaceBytes: number): ColumnMemory | undefined {
    if (width * capacity * 8 < inPlaceBytes || typeof WebAssembly === 'undefined') return undefined;
    const rows = Math.ceil(capacity / LINE) * LINE;
    const stride = rows % ALIASES === 0 ? rows + LINE : rows;
    const at = OWN_BYTES + (shared ? SHARED_READERS : 1) * scratchBytes(width);
    const behind = at + 8 * stride * width;
    const pages = Math.ceil((behind + runScannerBytes(stride)) / PAGE);
    if (pages > MOST_PAGES) return undefined;
    try {
      const memory = new WebAssembly.Memory({ initial: pages, maximum: pages, shared });
      offerRunScanner(memory.buffer, () => openRunScanner(memory, behind, stride, shared));
      return new ColumnMemory(memory, width, at, stride);
    } catch {
      return undefined;
    }
  }

  /** For reader 0 of the memory, or 1 or 2 where it is shared. */
  direct(reader: 0 | 1 | 2): DirectColumns {
    const { memory, width, at, stride } = this;
    return { memory, scratch: OWN_BYTES + reader * scratchBytes(width), at, stride };
  }
}
