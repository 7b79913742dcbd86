// Polars for Node 20 cannot stand in package.json: the builds of that version for other platforms are not served, and
// `npm ci` refuses such a lock file. So the benchmark fetches it into a folder of its own, and goes on without it.
import { spawnSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';

const PIN = 'nodejs-polars@0.24.0';

/** The part of its interface that is used here. */
interface Polars {
  readonly Float64: unknown;
  readCSV(path: string, options: object): Frame;
  scanCSV(path: string, options: object): { collectSync(): Frame };
}

interface Frame {
  readonly height: number;
  readonly columns: readonly string[];
  getColumn(name: string): { cast(type: unknown): { toTypedArray(): ArrayLike<number> } };
}

const folder = () => join(process.cwd(), 'node_modules', '.cache', 'telltale', 'bench-peers');

/** @throws Error when it is not installed or has no build for this machine. */
export function loadPolars(): Polars {
  const load = createRequire(join(folder(), 'package.json'));
  const module = load('nodejs-polars') as Polars & { default?: Polars };
  return module.default ?? module;
}

/** Installs Polars unless it is there. @returns why it cannot be used, undefined when it can. */
export function fetchPolars(): string | undefined {
  try {
    loadPolars();
    return undefined;
  } catch {
    mkdirSync(folder(), { recursive: true });
    writeFileSync(join(folder(), 'package.json'), '{"private":true}\n');
    const npm = process.env.npm_execpath;
    if (npm === undefined) return `${PIN} is not installed; start the benchmark with npm run bench, which fetches it`;
    spawnSync(process.execPath, [npm, 'install', '--no-save', '--no-audit', PIN], { cwd: folder(), stdio: 'ignore' });
    try {
      loadPolars();
      return undefined;
    } catch (error) {
      return `${PIN} does not install here (${error instanceof Error ? error.message.split('\n')[0] : error})`;
    }
  }
}
