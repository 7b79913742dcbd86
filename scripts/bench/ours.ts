import { createHash } from 'node:crypto';
import { fileBytes } from '../../packages/cli/src/file-bytes.js';
import { type Hasher, readTable } from '../../packages/core/src/ingest/index.js';
import { type Method, sumOf } from './method.js';

const NO_HASH: Hasher = { update: () => undefined, hex: () => '' };

function sha256(): Hasher {
  const hash = createHash('sha256');
  return { update: (bytes) => hash.update(bytes), hex: () => hash.digest('hex') };
}

/** Our reader, from bytes to columns with a settled time axis. It finds the dialect itself. */
function ours(hasher: () => Hasher): Method {
  return async ({ path, size }) => {
    const result = await readTable(fileBytes(path), { name: 'bench', size, hasher: hasher() });
    if (!result.ok) throw new Error(result.fault.message);
    const { table } = result;
    return { rows: table.rows, sums: () => table.columns.map(({ values }) => sumOf(values, table.rows)) };
  };
}

export const oursDecode = ours(() => NO_HASH);
export const oursHashed = ours(sha256);
export const oursTwo = ours(sha256);
