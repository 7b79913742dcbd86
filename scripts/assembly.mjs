// The compiled row reader of core: AssemblyScript to a module of WebAssembly, kept in the sources as base64, so that nobody
// needs the compiler who does not change it. The hash of its source stands beside it; the check compares that.
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { root } from './house.mjs';

const source = join(root, 'packages', 'core', 'assembly', 'rows.ts');
const target = 'packages/core/src/ingest/rows-module.ts';
/** Fetched when it is needed: 100 MB that no user of telltale has a use for. */
const compiler = 'assemblyscript@0.28.20';
const flags = [
  '-O3',
  '--runtime',
  'stub',
  '--noAssert',
  '--enable',
  'simd',
  '--importMemory',
  '--initialMemory',
  '1',
  '--maximumMemory',
  '65536',
];

function hash() {
  const text = readFileSync(source, 'utf8').replaceAll('\r\n', '\n');
  return createHash('sha256').update(text).update(JSON.stringify(flags)).digest('hex');
}

/** A complaint when the module was compiled from another source, else undefined. */
export function staleAssembly() {
  const text = readFileSync(join(root, target), 'utf8');
  return text.includes(hash()) ? undefined : `${target} is stale: run "npm run generate"`;
}

/** Compiles when the source has changed. Needs the registry then. @returns the path when it was written */
export function writeAssembly() {
  if (staleAssembly() === undefined) return undefined;
  const folder = mkdtempSync(join(tmpdir(), 'telltale-'));
  try {
    const out = join(folder, 'rows.wasm');
    const npx = process.platform === 'win32' ? 'npx.cmd' : 'npx';
    execFileSync(npx, ['--yes', '--package', compiler, 'asc', source, ...flags, '-o', out], {
      stdio: ['ignore', 'inherit', 'inherit'],
      shell: process.platform === 'win32',
    });
    const lines = [
      '/**',
      ' * `assembly/rows.ts`, compiled by `npm run generate`. SHA-256 of that source and of how it is compiled:',
      ` * ${hash()}`,
      ' */',
      'export const ROWS_MODULE =',
      `  '${readFileSync(out).toString('base64')}';`,
      '',
    ];
    writeFileSync(join(root, target), lines.join('\n'));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  return target;
}
