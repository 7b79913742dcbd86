import { createHash } from 'node:crypto';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { fileBytes, ownFileBytes } from '../../packages/cli/src/file-bytes.js';
import { SecondThread } from '../../packages/cli/src/second-thread.js';
import { type Hasher, readTable, summariseTable } from '../../packages/core/src/ingest/index.js';
import { ROWS, WIDTH } from './data.js';
import { type Method, sumOf } from './method.js';

function sha256(): Hasher {
  const hash = createHash('sha256');
  return { update: (bytes) => hash.update(bytes), hex: () => hash.digest('hex') };
}

const WORKER = pathToFileURL(join(process.cwd(), 'packages', 'cli', 'dist', 'scan-worker.cjs'));

/** Our reader, from bytes to columns with a settled time axis. It finds the dialect itself. */
function ours(hasher: () => Hasher | null, threads: 1 | 2): Method {
  return async ({ path, size }) => {
    const helper = threads === 2 ? { helper: new SecondThread(path, WORKER).forReading(false) } : {};
    const source = threads === 2 ? ownFileBytes(path) : fileBytes(path);
    const result = await readTable(source, { name: 'bench', size, hasher: hasher(), ...helper });
    if (!result.ok) throw new Error(result.fault.message);
    const { table } = result;
    return { rows: table.rows, sums: () => table.columns.map(({ values }) => sumOf(values, table.rows)) };
  };
}

export const oursDecode = ours(() => null, 1);
export const oursHashed = ours(sha256, 1);
export const oursTwo = ours(() => null, 2);

/** One pass in small memory: no column is kept, so the sums are those of its means. */
export const oursSummary: Method = async ({ path }) => {
  const result = await summariseTable(fileBytes(path), { name: 'bench', hasher: null });
  if (!result.ok) throw new Error(result.fault.message);
  const { rows, columns } = result;
  return { rows, sums: () => columns.map(({ mean, numbers }) => mean * numbers) };
};

/** The memory of the columns, each page touched once, and nothing read: the bound of this machine. */
export const memory: Method = async () => {
  const columns = new Float64Array(ROWS * WIDTH);
  for (let at = 0; at < columns.length; at += 512) columns[at] = 1;
  return { rows: ROWS, sums: () => [] };
};
