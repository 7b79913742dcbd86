// Core's purity is held by lint settings; a setting that does not fire holds nothing. The settings are tried on a
// folder of the checkout's shape with one impure file for each.
import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { root } from './house.mjs';

const impure = [
  ['lint/correctness/noNodejsModules', "import { readFileSync } from 'node:fs';\nexport const read = readFileSync;\n"],
  ['lint/correctness/noNodejsModules', "import { join } from 'path';\nexport const j = join;\n"],
  ['lint/correctness/noProcessGlobal', 'export const p = process.cwd();\n'],
  ['lint/style/noProcessEnv', 'export const p = process.env.HOME;\n'],
  ['lint/suspicious/noConsole', "console.log('x');\n"],
  ['lint/style/noRestrictedGlobals', 'export const b = Buffer.alloc(1);\n'],
  ['lint/style/noRestrictedGlobals', 'export const d = Date.now();\n'],
  ['lint/style/noRestrictedGlobals', 'export const d = new Date();\n'],
  ['lint/style/noRestrictedGlobals', 'export const t = performance.now();\n'],
  ['lint/style/noRestrictedGlobals', "export const f = new Intl.NumberFormat('en');\n"],
  ['lint/style/noRestrictedGlobals', "export const f = fetch('x');\n"],
  ['lint/style/noRestrictedGlobals', 'export const t = document.title;\n'],
  ['lint/suspicious/noExplicitAny', 'export const f = (x: any) => x;\n'],
].map(([rule, text], at) => ({ rule, text, path: `packages/core/src/math/impure-${at}.ts` }));

const clean = [
  { path: 'packages/core/src/math/clean.ts', text: 'export const half = (x: number): number => x / 2;\n' },
  {
    path: 'packages/cli/src/clean.ts',
    text: "import { readFileSync } from 'node:fs';\n\nprocess.stdout.write(readFileSync('x', 'utf8') + new Date());\n",
  },
];

describe('purity of core', () => {
  let base;
  let diagnostics;
  beforeAll(() => {
    base = mkdtempSync(join(realpathSync(tmpdir()), 'telltale-lint-'));
    for (const name of ['biome.json', '.gitignore']) copyFileSync(join(root, name), join(base, name));
    for (const { path, text } of [...impure, ...clean]) {
      mkdirSync(dirname(join(base, path)), { recursive: true });
      writeFileSync(join(base, path), text);
    }
    const biome = join(root, 'node_modules', '@biomejs', 'biome', 'bin', 'biome');
    const args = [biome, 'lint', '--reporter=json', '--max-diagnostics=none', '--colors=off'];
    const { stdout } = spawnSync(process.execPath, args, { cwd: base, encoding: 'utf8' });
    diagnostics = JSON.parse(stdout).diagnostics.map((one) => ({
      rule: one.category,
      severity: one.severity,
      path: (one.location.path.file ?? one.location.path).replaceAll('\\', '/'),
    }));
  });
  afterAll(() => rmSync(base, { recursive: true, force: true }));

  it.each(impure)('$rule refuses $text', ({ rule, path }) => {
    expect(diagnostics.filter((one) => one.path.endsWith(path))).toContainEqual(
      expect.objectContaining({ rule, severity: 'error' }),
    );
  });

  it.each(clean)('$path may do what it does', ({ path }) => {
    expect(diagnostics.filter((one) => one.path.endsWith(path))).toEqual([]);
  });
});
