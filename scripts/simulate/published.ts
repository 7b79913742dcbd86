import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

// Only the tests of this folder use it: published check values and open data beside the repository.
const root = fileURLToPath(new URL('../../../shared/', import.meta.url));

export const hasShared =
  existsSync(`${root}validation/isa.csv`) && existsSync(`${root}data/nrel-fastsim-cycles/udds.csv`);
/** Put behind a test's name, so that a skipped test says why. */
export const WHERE = hasShared ? '' : ' (skipped: ../shared is absent)';

/** Rows of a comma-separated file without quoted cells, keyed by the head line. */
export function sharedTable(path: string): Record<string, string>[] {
  const lines = readFileSync(root + path, 'utf8')
    .replace(/^\ufeff/, '')
    .split(/\r?\n/)
    .filter((l) => l !== '');
  const head = lines[0]!.split(',');
  return lines
    .slice(1)
    .map((line) => Object.fromEntries(line.split(',').map((cell, i) => [head[i] ?? `extra${i}`, cell])));
}

interface Example {
  readonly id: string;
  readonly inputs: Readonly<Record<string, number>>;
  readonly expected: number & Readonly<Record<string, number>>;
}
/** One worked example of physics-examples.json. */
export function example(id: string): Example {
  const all = JSON.parse(readFileSync(`${root}validation/physics-examples.json`, 'utf8')) as Example[];
  const found = all.find((e) => e.id === id);
  if (!found) throw new Error(`physics-examples.json has no '${id}'`);
  return found;
}
