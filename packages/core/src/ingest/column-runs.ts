import type { RunScanner, SeenRuns } from '../recording/compiled-runs.js';
import { rowsModule } from './fast-rows.js';

interface Compiled {
  readonly runs: (values: number, rows: number, starts: number, out: number) => number;
  readonly rise: (values: number, rows: number) => number;
}

/** Doubles that the code leaves: least, greatest, least step, greatest step, samples. */
const OUT = 5;
/** Rows that may be written behind the last one. */
const BEHIND = 2;

/** Bytes that {@link openRunScanner} needs for columns of `rows` rows. */
export function runScannerBytes(rows: number): number {
  return 8 * (OUT + rows) + 4 * (rows + BEHIND);
}

/**
 * The compiled `runs` and `rise` of `assembly/rows.ts`, for columns in `memory`. Undefined where it is not to be had.
 * @param at byte, a multiple of 8, from which there is room for {@link runScannerBytes}
 */
export function openRunScanner(
  memory: WebAssembly.Memory,
  at: number,
  rows: number,
  shared: boolean,
): RunScanner | undefined {
  const module = rowsModule(shared);
  if (module === undefined) return undefined;
  const compiled = compiledIn(module, memory);
  if (compiled === undefined) return undefined;
  const { buffer } = memory;
  const out = new Float64Array(buffer, at, OUT);
  const copy = new Float64Array(buffer, at + 8 * OUT, rows);
  const starts = new Int32Array(buffer, at + 8 * (OUT + rows), rows + BEHIND);
  return {
    starts,
    scan(values): SeenRuns | undefined {
      if (values.length > rows) return undefined;
      const here = values.buffer === buffer;
      if (!here) copy.set(values);
      const from = here ? values.byteOffset : copy.byteOffset;
      const count = compiled.runs(from, values.length, starts.byteOffset, out.byteOffset);
      return { count, min: out[0]!, max: out[1]!, quantum: out[2]!, greatest: out[3]!, samples: out[4]! };
    },
    rise: (values) => (values.buffer === buffer ? compiled.rise(values.byteOffset, values.length) : undefined),
  };
}

function compiledIn(module: WebAssembly.Module, memory: WebAssembly.Memory): Compiled | undefined {
  try {
    const { exports } = new WebAssembly.Instance(module, { env: { memory } });
    return exports as unknown as Compiled;
  } catch {
    return undefined;
  }
}
