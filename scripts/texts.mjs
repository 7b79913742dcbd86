// Checks that only read the project's texts.
import { existsSync, readFileSync } from 'node:fs';
import { extname, join } from 'node:path';
import { filesBelow, posix, root, run } from './house.mjs';

const sourceRoots = [
  'packages/core/src',
  'packages/core/test',
  'packages/cli/src',
  'packages/cli/test',
  'packages/cli/bin',
  'scripts',
];
const smell = 200;
const defect = 400;

/** @param {{ name: string, lines: number }[]} measured */
export function judgeLengths(measured) {
  const broken = measured.filter((file) => file.lines > defect);
  const smelly = measured
    .filter((file) => file.lines > smell && file.lines <= defect)
    .sort((a, b) => b.lines - a.lines);
  const longest = smelly.slice(0, 3).map((file) => `${file.name} ${file.lines}`);
  const warning =
    smelly.length > longest.length ? `${smelly.length}, longest ${longest.join(', ')}` : longest.join(', ');
  return {
    ok: measured.length > 0 && broken.length === 0,
    note: `${measured.length} files${warning ? `, over ${smell} lines: ${warning}` : ''}`,
    detail: broken.map((file) => `${file.name}: ${file.lines} lines, at most ${defect}: split it by idea`).join('\n'),
  };
}

/** No source file is longer than a reader can hold. */
export function fileLengths() {
  const paths = sourceRoots
    .flatMap((name) => filesBelow(join(root, name)))
    .filter((path) => /\.(ts|mts|js|mjs)$/.test(path));
  return judgeLengths(
    paths.map((path) => ({ name: posix(path), lines: readFileSync(path, 'utf8').split('\n').length - 1 })),
  );
}

// Absolute paths of somebody's machine. Not after a letter, a dot or a closing brace: that is a part of a longer path.
const machinePaths = [/(?<![\w.$~}/-])\/(?:home|Users|root|work|mnt)\/[\w.-]+/, /\b[A-Za-z]:\\(?:Users|home)\\/i];

/** Line numbers (from 1) that hold such a path. */
export function linesWithMachinePath(text) {
  const found = [];
  const lines = text.split('\n');
  for (let i = 0; i < lines.length; i++) if (machinePaths.some((pattern) => pattern.test(lines[i]))) found.push(i + 1);
  return found;
}

const binary = new Set(['.gz', '.png', '.ico', '.woff2', '.parquet', '.db', '.tgz']);

/** The project runs anywhere: no file of it knows where it was written. Its own test is the exception. */
export async function machinePathsAbsent() {
  const listed = await run('git', ['ls-files', '-z', '--cached', '--others', '--exclude-standard'], { output: 'keep' });
  const names = listed.code === 0 ? listed.text.split('\0').filter(Boolean) : filesBelow(root).map(posix);
  const detail = [];
  for (const name of names) {
    const path = join(root, name);
    if (binary.has(extname(name)) || name === 'scripts/texts.test.mjs' || !existsSync(path)) continue;
    for (const line of linesWithMachinePath(readFileSync(path, 'utf8')))
      detail.push(`${name}:${line}: an absolute path`);
  }
  return { ok: names.length > 0 && detail.length === 0, note: `${names.length} files`, detail: detail.join('\n') };
}
