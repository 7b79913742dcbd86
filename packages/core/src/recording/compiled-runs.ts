/** What compiled code saw of a column: see `scanRuns`. Infinite the wrong way round where there was nothing. */
export interface SeenRuns {
  readonly count: number;
  readonly samples: number;
  readonly min: number;
  readonly max: number;
  /** Least and greatest step between neighbouring runs. */
  readonly quantum: number;
  readonly greatest: number;
}

/** Finds the runs of columns that lie in the memory of compiled code. */
export interface RunScanner {
  /** The rows at which the runs of the column that was scanned last begin. */
  readonly starts: Int32Array;
  /** Values that lie elsewhere are copied to its memory. Undefined when there are more of them than there is room for. */
  scan(values: Float64Array): SeenRuns | undefined;
  /** The longest step where each value is above the one before, else 0. Undefined for values that lie elsewhere. */
  rise(values: Float64Array): number | undefined;
}

const scanners = new WeakMap<ArrayBufferLike, () => RunScanner | undefined>();

/** Offers compiled code for the columns in a memory; `open` is called when it is first needed. */
export function offerRunScanner(memory: ArrayBufferLike, open: () => RunScanner | undefined): void {
  let opened: RunScanner | undefined | null = null;
  scanners.set(memory, () => {
    if (opened === null) opened = open();
    return opened;
  });
}

/** The compiled code that was offered for the memory in which the array lies. */
export function runScannerOf(array: Float64Array | Int32Array): RunScanner | undefined {
  return scanners.get(array.buffer)?.();
}
