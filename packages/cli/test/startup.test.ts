// Start-up is felt at every call. Time is not steady enough for a test; what the entry loads before it knows the
// command is, so that is held here. (`--version` beside bare node is measured by hand, see DEVELOPERS.md.)
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { wordLines } from '../../core/src/channels/patterns.js';

const root = fileURLToPath(new URL('../../..', import.meta.url));

interface Output {
  readonly bytes: number;
  readonly imports: readonly { readonly path: string; readonly kind: string }[];
  readonly inputs: Readonly<Record<string, { readonly bytesInOutput: number }>>;
}

describe('start-up of the bundle', () => {
  let outputs: Readonly<Record<string, Output>>;
  const eager: Output[] = [];
  beforeAll(() => {
    execFileSync(process.execPath, [join(root, 'scripts', 'build.mjs')], { stdio: 'ignore' });
    const metafile = join(root, 'node_modules', '.cache', 'telltale', 'bundle.json');
    ({ outputs } = JSON.parse(readFileSync(metafile, 'utf8')) as { outputs: Record<string, Output> });
    const seen = new Set<string>();
    const queue = ['packages/cli/dist/main.js'];
    for (let path = queue.pop(); path !== undefined; path = queue.pop()) {
      const output = outputs[path];
      if (output === undefined || seen.has(path)) continue; // undefined: a module of Node
      seen.add(path);
      eager.push(output);
      for (const one of output.imports) if (one.kind === 'import-statement') queue.push(one.path);
    }
  }, 120_000);

  it.each(['zod', 'yaml', 'papaparse', 'fflate'])('does not load %s before it is needed', (name) => {
    const inside = (output: Output) =>
      Object.entries(output.inputs).some(
        ([input, share]) => input.includes(`node_modules/${name}/`) && share.bytesInOutput > 0,
      );
    expect(eager.some(inside)).toBe(false);
    // Else the name in this test is stale and the line above cannot fail.
    expect(Object.values(outputs).some(inside)).toBe(true);
  });

  it('brings the words of all wordings along, instead of working them out at each start', () => {
    const lines = wordLines();
    expect(lines.split('\n').length).toBeGreaterThan(1500);
    // As a template, or with its line ends escaped.
    const forms = [lines, JSON.stringify(lines)];
    const texts = Object.keys(outputs).map((path) => readFileSync(join(root, path), 'utf8'));
    expect(texts.some((text) => forms.some((form) => text.includes(form)))).toBe(true);
  });

  it.each(['better-sqlite3', 'pg'])('loads %s in the store alone, when a logbook is opened', (name) => {
    const texts = Object.keys(outputs).map((path) => readFileSync(join(root, path), 'utf8'));
    const asked = texts.flatMap((text) => [...text.matchAll(new RegExp(`.{40}["']${name}["']\\)`, 'g'))]);
    const required = asked.map(([found]) => found).filter((found) => found.includes('require('));
    expect(required.length).toBeGreaterThan(0);
    for (const found of required) expect(found).toContain('.then(()=>');
    const named = Object.values(outputs).flatMap(({ imports }) => imports.filter(({ path }) => path === name));
    expect(named.every(({ kind }) => kind !== 'import-statement')).toBe(true);
  });
});
