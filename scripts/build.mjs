// Compiles the types and core, then bundles the command line. Does nothing when no source changed.
import { existsSync, mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { cache, digest, filesBelow, isMain, posix, readStamp, root, run, runTool, say, writeStamp } from './house.mjs';
import { setup } from './setup.mjs';

const coreDist = join(root, 'packages', 'core', 'dist');
const bundleFolder = join(root, 'packages', 'cli', 'dist');

function inputs() {
  const settings = [
    'package.json',
    'package-lock.json',
    'tsconfig.base.json',
    'packages/core/package.json',
    'packages/cli/package.json',
  ];
  return [
    ...filesBelow(join(root, 'packages', 'core', 'src')),
    ...filesBelow(join(root, 'packages', 'cli', 'src')),
    ...[
      ...settings,
      'packages/core/tsconfig.json',
      'packages/cli/tsconfig.json',
      'packages/cli/tsconfig.browser.json',
      'scripts/build.mjs',
      'scripts/keep-code.ts',
    ].map((name) => join(root, name)),
  ];
}

/** Compiled files whose source is gone would still be packed. */
function removeOrphans() {
  for (const path of filesBelow(coreDist, new Set())) {
    const stem = posix(path).match(/^packages\/core\/dist\/(.+?)\.(?:d\.ts|js)(?:\.map)?$/)?.[1];
    if (stem === undefined) continue;
    if (!existsSync(join(root, 'packages', 'core', 'src', `${stem}.ts`))) rmSync(path);
  }
}

/** Tells builds apart whose logbook would say something else: see `print` in commands/track/report-of.ts. */
function logbookDigest() {
  const core = (...parts) => join(root, 'packages', 'core', 'src', ...parts);
  return digest([
    ...['logbook', 'math', 'units'].flatMap((folder) => filesBelow(core(folder))),
    core('engine', 'cautions.ts'),
  ]).slice(0, 32);
}

/** The words of the catalogue's wordings, worked out once here and not at every start. */
export async function wordLines(build) {
  const { outputFiles } = await build({
    absWorkingDir: root,
    entryPoints: ['packages/core/src/channels/patterns.ts'],
    bundle: true,
    format: 'esm',
    write: false,
    logLevel: 'silent',
  });
  const module = await import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].contents).toString('base64')}`);
  return module.wordLines();
}

/** The bundle holds core and every library, so the packed command line needs nothing but Node. */
async function bundle() {
  const { build } = await import('esbuild');
  const settings = {
    absWorkingDir: root,
    outdir: 'packages/cli/dist',
    bundle: true,
    format: 'esm',
    platform: 'node',
    target: 'node20.19',
    // Native or large, and only for some commands: imported lazily, with a clear message when absent.
    external: ['better-sqlite3', 'pg'],
    alias: { '@telltale/core': './packages/core/src/index.ts' },
    define: {
      TELLTALE_LOGBOOK: JSON.stringify(logbookDigest()),
      TELLTALE_WORD_LINES: JSON.stringify(await wordLines(build)),
    },
    // CommonJS libraries inside an ES module bundle ask for `require`.
    banner: {
      js: "import { createRequire as __createRequire } from 'node:module';const require = __createRequire(import.meta.url);",
    },
    minifySyntax: true,
    minifyWhitespace: true, // names stay: a stack trace has to be readable
    legalComments: 'none', // the licences are in THIRD-PARTY-NOTICES.md
    chunkNames: 'chunk-[hash]',
    metafile: true,
    write: false,
    logLevel: 'silent', // what went wrong is thrown, and told once below
  };
  const { script, names } = await commandScript(build, settings);
  const result = await build({
    ...settings,
    plugins: [takesCommandsFrom(basename(script.path), names)],
    entryPoints: {
      main: 'packages/cli/src/main.ts',
      'observe-worker': 'packages/cli/src/observe-worker.ts',
      'add-worker': 'packages/cli/src/add-worker.ts',
    },
    splitting: true, // a command loads what it needs, when it needs it
  });
  const { banner: _, ...plain } = settings;
  // On its own, since shared chunks would make the second thread load the whole of core before it reads a byte, and no
  // module, since a thread is ready sooner without the loader of modules.
  const worker = await build({
    ...plain,
    entryPoints: { 'scan-worker': 'packages/cli/src/scan-worker.ts' },
    format: 'cjs',
    outExtension: { '.js': '.cjs' },
  });
  // What runs in a page: no module, because a page from disk may load none.
  const pages = await build({
    ...plain,
    entryPoints: {
      report: 'packages/cli/src/browser/report.ts',
      analyser: 'packages/cli/src/browser/analyser.ts',
      'analyser-worker': 'packages/cli/src/browser/worker.ts',
    },
    format: 'iife',
    platform: 'browser',
    target: 'es2022',
    minify: true,
    charset: 'ascii',
  });
  mkdirSync(bundleFolder, { recursive: true });
  // The entry last and the stale chunks after it: whoever starts the tool meanwhile finds a whole bundle.
  const files = [script, ...worker.outputFiles, ...pages.outputFiles, ...result.outputFiles].sort(
    (a, b) => Number(basename(a.path) === 'main.js') - Number(basename(b.path) === 'main.js'),
  );
  for (const file of files) {
    mkdirSync(dirname(file.path), { recursive: true });
    writeFileSync(file.path, file.contents);
  }
  const fresh = new Set(files.map((file) => basename(file.path)));
  for (const name of readdirSync(bundleFolder))
    if (!fresh.has(name)) rmSync(join(bundleFolder, name), { recursive: true });
  mkdirSync(cache, { recursive: true });
  writeFileSync(
    join(cache, 'bundle.json'),
    JSON.stringify({ outputs: { ...result.metafile.outputs, ...script.outputs, ...pages.metafile.outputs } }),
  );
  await keepCode(script.path);
  return files.map((file) => posix(file.path));
}

/**
 * The commands as one script of its own, named by its contents, so that the code V8 compiles from it can be kept
 * (packages/cli/src/compiled-script.ts): a seventh of a short run of `columns`.
 */
async function commandScript(build, settings) {
  const { banner: _, ...own } = { ...settings, entryPoints: { commands: 'packages/cli/src/commands/index.ts' } };
  const asModule = await build(own);
  const [{ exports: names }] = Object.values(asModule.metafile.outputs);
  const { outputFiles, metafile } = await build({
    ...own,
    entryNames: '[name]-[hash]',
    format: 'cjs',
    supported: { 'dynamic-import': false },
    banner: { js: '(function (exports, require, module, scriptUrl) {' },
    footer: { js: '})' },
    define: { ...own.define, 'import.meta.url': 'scriptUrl' },
    charset: 'ascii',
  });
  const [{ path, contents }] = outputFiles;
  return { script: { path, contents, outputs: metafile.outputs }, names };
}

/** Imports of the commands inside the bundle: the exports of that script. */
function takesCommandsFrom(file, names) {
  const contents = `import { runScript } from './packages/cli/src/compiled-script.ts';
import { fileURLToPath } from 'node:url';
const { exports: commands } = runScript(fileURLToPath(new URL('./${file}', import.meta.url)));
export const { ${names.join(', ')} } = commands;`;
  return {
    name: 'commands',
    setup(bundler) {
      bundler.onResolve({ filter: /\/commands\/index\.js$/ }, ({ path }) => ({ path, namespace: 'commands' }));
      bundler.onLoad({ filter: /./, namespace: 'commands' }, () => ({ contents, loader: 'js', resolveDir: root }));
    },
  };
}

/** Without it the tool works all the same, so a failure here is told and no more. */
async function keepCode(path) {
  const kept = await run(process.execPath, ['scripts/run.mjs', 'scripts/keep-code.ts', path], { output: 'keep' });
  if (kept.code === 0) return;
  sayFirst(kept.text);
  say('build: the compiled code could not be kept, starts will take longer');
}

/** The first lines say what is wrong; the others mostly follow from it. */
function sayFirst(text, count = 20) {
  const lines = text.split('\n').filter((line) => line.trim() !== '');
  for (const line of lines.slice(0, count)) say(line);
  if (lines.length > count) say(`build: … and ${lines.length - count} more lines`);
}

/** Resolves to 0, or to a code other than 0 after saying why on standard error. */
export async function build() {
  const print = digest(inputs());
  const before = readStamp('build.json');
  if (before?.print === print && before.outputs.every((path) => existsSync(join(root, path)))) return 0;
  say('build: compiling');
  const types = await runTool(
    'typescript/lib/tsc.js',
    ['-b', 'packages/core', 'packages/cli', 'packages/cli/tsconfig.browser.json', '--pretty', 'false'],
    {
      output: 'keep',
    },
  );
  sayFirst(types.text);
  removeOrphans();
  let outputs;
  try {
    outputs = await bundle();
  } catch (error) {
    sayFirst(`build: the bundle failed: ${error instanceof Error ? error.message : error}`);
    return 1;
  }
  if (types.code !== 0) {
    say('build: the bundle is written, but the types are wrong: see the messages above');
    return types.code;
  }
  writeStamp('build.json', {
    print,
    outputs: [...outputs, 'packages/core/dist/index.js', 'packages/core/dist/index.d.ts'],
  });
  return 0;
}

if (isMain(import.meta.url)) process.exitCode = (await setup()) || (await build());
