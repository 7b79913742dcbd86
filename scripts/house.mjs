// What the house scripts share. Dependency-free: it has to run on a bare checkout, before anything is installed.
import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, realpathSync, writeFileSync } from 'node:fs';
import { basename, dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Absolute path of the checkout. */
export const root = fileURLToPath(new URL('..', import.meta.url));

/** Stamps, reports and compiler caches of the scripts. Inside node_modules, so that removing that removes these too. */
export const cache = join(root, 'node_modules', '.cache', 'telltale');

/** One line of progress. Standard output belongs to the results, so this goes to standard error. */
export function say(text) {
  process.stderr.write(`${text}\n`);
}

export function readJson(path) {
  return JSON.parse(readFileSync(path, 'utf8'));
}

export function readStamp(name) {
  const path = join(cache, name);
  try {
    return readJson(path);
  } catch {
    return undefined; // absent or torn: both mean "do the work again"
  }
}

export function writeStamp(name, value) {
  mkdirSync(cache, { recursive: true });
  writeFileSync(join(cache, name), `${JSON.stringify(value, undefined, 1)}\n`);
}

/** Relative path with forward slashes, on every platform. */
export function posix(path) {
  return relative(root, path).split(sep).join('/');
}

/** Every file below a folder, sorted, without what is installed or built. */
export function filesBelow(folder, skip = new Set(['node_modules', 'dist', 'build', '.git', '.cache', 'coverage'])) {
  const found = [];
  if (!existsSync(folder)) return found;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    if (skip.has(entry.name)) continue;
    const path = join(folder, entry.name);
    if (entry.isDirectory()) found.push(...filesBelow(path, skip));
    else if (entry.isFile()) found.push(path);
  }
  return found.sort();
}

/** SHA-256 over names and contents. Contents, because time stamps change with every checkout. */
export function digest(paths) {
  const hash = createHash('sha256');
  for (const path of paths) {
    if (!existsSync(path)) continue;
    hash.update(`${posix(path)}\0`);
    hash.update(readFileSync(path));
    hash.update('\0');
  }
  return hash.digest('hex');
}

/**
 * Runs a program without a shell. `output: 'show'` sends both its streams to standard error, `'keep'` collects them.
 * Resolves to `{ code, text }`; a program that was killed by a signal counts as code 1. Never rejects.
 */
export function run(command, args, { cwd = root, env = process.env, output = 'show' } = {}) {
  return new Promise((resolve) => {
    const stdio = output === 'show' ? ['ignore', 2, 2] : ['ignore', 'pipe', 'pipe'];
    const child = spawn(command, args, { cwd, env, stdio, windowsHide: true });
    const pieces = [];
    child.stdout?.on('data', (piece) => pieces.push(piece));
    child.stderr?.on('data', (piece) => pieces.push(piece));
    child.on('error', (error) => resolve({ code: 1, text: error.message }));
    child.on('close', (code) => resolve({ code: code ?? 1, text: Buffer.concat(pieces).toString('utf8') }));
  });
}

/** Runs a JavaScript file of an installed package with this very Node. No `.cmd` shims, so it is the same on Windows. */
export function runTool(file, args, options) {
  return run(process.execPath, [join(root, 'node_modules', ...file.split('/')), ...args], options);
}

/** The npm that started us, else the one beside this Node. */
export function npmCli() {
  const started = process.env.npm_execpath;
  if (started !== undefined && /^npm(-cli)?\.[cm]?js$/.test(basename(started)) && existsSync(started)) return started;
  const bin = dirname(process.execPath);
  const places = [
    join(bin, 'node_modules', 'npm', 'bin', 'npm-cli.js'), // Windows
    join(bin, '..', 'lib', 'node_modules', 'npm', 'bin', 'npm-cli.js'), // the usual prefix
    join(bin, '..', 'share', 'nodejs', 'npm', 'bin', 'npm-cli.js'), // Debian's package
  ];
  const found = places.find((place) => existsSync(place));
  if (found === undefined) {
    throw new Error(`npm was not found beside ${process.execPath}: start this through npm ("npm start", "npm test")`);
  }
  return found;
}

/** True when the file was started by node itself and not imported. */
export function isMain(url) {
  // Through links too: the temporary folder of macOS is one.
  return process.argv[1] !== undefined && fileURLToPath(url) === realpathSync(process.argv[1]);
}
