import { mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

/** Root of the checkout: of a bundle in node_modules/.cache too. */
export function checkout(from: string): string {
  const at = dirname(fileURLToPath(from));
  const cached = at.indexOf(join('node_modules', '.cache'));
  return cached >= 0 ? at.slice(0, cached - 1) : join(at, '..', '..');
}

/** Bundles the writer once, so that a thousand of them start fast. @returns its path */
export async function bundledWriter(root: string): Promise<string> {
  const folder = join(root, 'node_modules', '.cache', 'telltale');
  mkdirSync(folder, { recursive: true });
  const outfile = join(folder, `kill-writer-${process.pid}.mjs`);
  await build({
    entryPoints: [join(root, 'scripts', 'kill', 'writer.ts')],
    outfile,
    bundle: true,
    platform: 'node',
    format: 'esm',
    target: 'node20',
    packages: 'external',
    alias: { '@telltale/core': join(root, 'packages/core/src/index.ts') },
    logLevel: 'warning',
  });
  return outfile;
}
