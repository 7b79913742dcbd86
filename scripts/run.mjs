// Runs one TypeScript file: bundles it with esbuild (Node 20 runs no TypeScript), then imports the bundle.
// Usage: node scripts/run.mjs FILE.ts [arguments]
import { mkdirSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'esbuild';
import { wordLines } from './build.mjs';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '..');
const file = process.argv[2];
if (file === undefined) {
  console.error('no file given: expected node scripts/run.mjs FILE.ts [arguments]');
  process.exit(2);
}
const entry = resolve(file);
const folder = join(root, 'node_modules', '.cache', 'telltale');
mkdirSync(folder, { recursive: true });
const out = join(folder, `${relative(root, entry).replace(/[^A-Za-z0-9]+/g, '-')}-${process.pid}.mjs`);
await build({
  entryPoints: [entry],
  outfile: out,
  bundle: true,
  platform: 'node',
  format: 'esm',
  target: 'node20',
  packages: 'external',
  sourcemap: 'inline',
  alias: {
    '@telltale/core': join(root, 'packages/core/src/index.ts'),
    // As in the bundle of the command line, so that what is measured is what is used.
    papaparse: join(root, 'node_modules', 'papaparse', 'papaparse.js'),
  },
  define: { TELLTALE_WORD_LINES: JSON.stringify(await wordLines(build)) },
  logLevel: 'warning',
});
process.argv.splice(1, 2, entry);
const { rm } = await import('node:fs/promises');
try {
  await import(pathToFileURL(out).href);
} finally {
  await rm(out, { force: true });
}
