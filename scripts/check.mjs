// `npm run check`: everything about the code that a machine can hold. One line a check; details only of what failed.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from './build.mjs';
import { digest, filesBelow, isMain, npmCli, readStamp, root, run, runTool, say, writeStamp } from './house.mjs';
import { layering } from './layering.mjs';
import { setup } from './setup.mjs';
import { fileLengths, machinePathsAbsent } from './texts.mjs';

/** A check resolves to `{ ok, note?, detail? }`: `note` goes beside its name, `detail` below it when it failed. */
const ofTool = ({ code, text }) => ({ ok: code === 0, detail: text });

/** Looks at core as its users get it: the packed tarball. */
async function corePackage() {
  const folder = mkdtempSync(join(tmpdir(), 'telltale-pack-'));
  try {
    const args = [npmCli(), 'pack', '--json', '--ignore-scripts', '--pack-destination', folder];
    const packed = await run(process.execPath, args, { cwd: join(root, 'packages', 'core'), output: 'keep' });
    const tarball = filesBelow(folder).find((path) => path.endsWith('.tgz'));
    if (packed.code !== 0 || tarball === undefined) return { ok: false, detail: packed.text };
    const { publint } = await import('publint');
    const { formatMessage } = await import('publint/utils');
    const tar = readFileSync(tarball);
    const bytes = tar.buffer.slice(tar.byteOffset, tar.byteOffset + tar.byteLength);
    const { messages, pkg } = await publint({ pack: { tarball: bytes }, strict: true });
    const lint = messages.map((message) => `publint: ${formatMessage(message, pkg) ?? message.code}`);
    const types = await runTool(
      '@arethetypeswrong/cli/dist/index.js',
      [tarball, '--profile', 'esm-only', '--no-color', '--format', 'ascii'],
      { output: 'keep' },
    );
    return {
      ok: lint.length === 0 && types.code === 0,
      note: `${Math.round(tar.length / 1024)} kB`,
      detail: [...lint, types.code === 0 ? '' : types.text].join('\n'),
    };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const checks = {
  types: async () => ofTool(await runTool('typescript/lib/tsc.js', ['-b', '--pretty', 'false'], { output: 'keep' })),
  'lint and format': async () =>
    ofTool(
      await runTool(
        '@biomejs/biome/bin/biome',
        ['check', '--error-on-warnings', '--colors=off', '--max-diagnostics=40'],
        { output: 'keep' },
      ),
    ),
  layering: () => layering(root),
  'unused code': async () => ofTool(await runTool('knip/bin/knip.js', ['--no-progress'], { output: 'keep' })),
  'generated files': async () =>
    ofTool(await run(process.execPath, [join(root, 'scripts', 'generate.mjs'), '--check'], { output: 'keep' })),
  'package of core': corePackage,
  'file lengths': async () => fileLengths(),
  'no machine paths': machinePathsAbsent,
};

async function attempt(name, action) {
  const began = performance.now();
  let result;
  try {
    result = await action();
  } catch (error) {
    result = { ok: false, detail: error instanceof Error ? (error.stack ?? error.message) : String(error) };
  }
  const note = result.note ? `, ${result.note}` : '';
  say(`check: ${result.ok ? 'ok  ' : 'FAIL'} ${name} (${((performance.now() - began) / 1000).toFixed(1)} s${note})`);
  if (!result.ok) say((result.detail ?? '').trimEnd().replace(/^/gm, '      '));
  return result.ok;
}

/**
 * Runs all checks, two at a time (the cores of a small machine). With `remember`, a check that passed on exactly these
 * files is not repeated. Resolves to `{ passed, failed }`.
 */
export async function check({ only = [], remember = false } = {}) {
  const unknown = only.filter((name) => !(name in checks));
  if (unknown.length > 0) {
    say(`check: ${unknown.join(', ')} is no check; expected: ${Object.keys(checks).join(' | ')}`);
    return { passed: 0, failed: 1 };
  }
  const print = `${process.version} ${digest(filesBelow(root))}`;
  const before = remember ? (readStamp('checks.json') ?? {}) : {};
  const queue = Object.entries(checks).filter(([name]) => only.length === 0 || only.includes(name));
  const totals = { passed: 0, failed: 0 };
  const passed = {};
  const worker = async () => {
    for (let next = queue.shift(); next !== undefined; next = queue.shift()) {
      const [name, action] = next;
      const known = before[name] === print;
      if (known) say(`check: ok   ${name} (same files as when it last passed)`);
      if (known || (await attempt(name, action))) {
        totals.passed++;
        passed[name] = print;
      } else {
        totals.failed++;
      }
    }
  };
  await Promise.all([worker(), worker()]);
  // Files that changed meanwhile were perhaps not what was checked.
  if (only.length === 0 && print.endsWith(digest(filesBelow(root)))) writeStamp('checks.json', passed);
  return totals;
}

if (isMain(import.meta.url)) {
  const ready = (await setup()) || (await build());
  const { failed } = await check({ only: process.argv.slice(2) });
  process.exitCode = ready || failed > 0 ? 1 : 0;
}
