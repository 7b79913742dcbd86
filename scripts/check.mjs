// `npm run check`: everything about the code that a machine can hold. One line a check; details only of what failed.
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { extname, join } from 'node:path';
import { build } from './build.mjs';
import { cache, filesBelow, isMain, npmCli, posix, root, run, runTool, say } from './house.mjs';
import { layering } from './layering.mjs';
import { setup } from './setup.mjs';

/** A check resolves to `{ ok, note?, detail? }`: `note` goes beside its name, `detail` below it when it failed. */
const ofTool = ({ code, text }) => ({ ok: code === 0, detail: text });

const sourceRoots = [
  'packages/core/src',
  'packages/core/test',
  'packages/cli/src',
  'packages/cli/test',
  'packages/cli/bin',
  'scripts',
];
const sources = () =>
  sourceRoots.flatMap((name) => filesBelow(join(root, name))).filter((path) => /\.(ts|mts|js|mjs)$/.test(path));

const smell = 200;
const defect = 400;

function fileLengths() {
  const measured = sources().map((path) => ({
    name: posix(path),
    lines: readFileSync(path, 'utf8').split('\n').length - 1,
  }));
  const broken = measured.filter((file) => file.lines > defect);
  const smelly = measured.filter((file) => file.lines > smell && file.lines <= defect);
  return {
    ok: measured.length > 0 && broken.length === 0,
    note: `${measured.length} files${smelly.length ? `, ${smelly.length} over ${smell} lines: ${smelly.map((file) => `${file.name} ${file.lines}`).join(', ')}` : ''}`,
    detail: broken.map((file) => `${file.name}: ${file.lines} lines, at most ${defect}: split it by idea`).join('\n'),
  };
}

// Absolute paths of one machine, in any text of the project. Written so that this file does not find itself.
const machinePaths = [/(?<![\w.$~}-])\/(?:home|Users|root|work|mnt|tmp)\/[\w.-]+/, /\b[A-Za-z]:\\(?:Users|home)\\/];
const binary = new Set(['.gz', '.png', '.ico', '.woff2', '.parquet', '.db', '.tgz']);

async function machinePathsAbsent() {
  const listed = await run('git', ['ls-files', '-z', '--cached', '--others', '--exclude-standard'], { output: 'keep' });
  const names = listed.code === 0 ? listed.text.split('\0').filter(Boolean) : filesBelow(root).map(posix);
  const found = [];
  for (const name of names) {
    const path = join(root, name);
    if (binary.has(extname(name)) || !existsSync(path)) continue;
    const lines = readFileSync(path, 'utf8').split('\n');
    for (let i = 0; i < lines.length; i++) {
      const line = lines[i];
      if (line.length < 20_000 && machinePaths.some((pattern) => pattern.test(line)))
        found.push(`${name}:${i + 1}: ${line.trim().slice(0, 120)}`);
    }
  }
  return { ok: names.length > 0 && found.length === 0, note: `${names.length} files`, detail: found.join('\n') };
}

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
  'unused code': async () =>
    ofTool(
      await runTool('knip/bin/knip.js', ['--no-progress', '--cache', '--cache-location', cache], { output: 'keep' }),
    ),
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

/** Runs all checks, two at a time (the cores of a small machine). Resolves to `{ passed, failed }`. */
export async function check(only = []) {
  const unknown = only.filter((name) => !(name in checks));
  if (unknown.length > 0) {
    say(`check: ${unknown.join(', ')} is no check; expected: ${Object.keys(checks).join(' | ')}`);
    return { passed: 0, failed: 1 };
  }
  const queue = Object.entries(checks).filter(([name]) => only.length === 0 || only.includes(name));
  const totals = { passed: 0, failed: 0 };
  const worker = async () => {
    for (let next = queue.shift(); next !== undefined; next = queue.shift()) {
      if (await attempt(...next)) totals.passed++;
      else totals.failed++;
    }
  };
  await Promise.all([worker(), worker()]);
  return totals;
}

if (isMain(import.meta.url)) {
  const ready = (await setup()) || (await build());
  const { failed } = await check(process.argv.slice(2));
  process.exitCode = ready || failed > 0 ? 1 : 0;
}
