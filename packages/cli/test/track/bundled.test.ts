// The logbook's bundled command line: killed, several at once, over builds.
import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, rmSync, utimesSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { telltale, writeLog } from './owner.js';

const root = fileURLToPath(new URL('../../../..', import.meta.url));
let folder = '';
let count = 0;
let book = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-bundled-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));
beforeEach(() => {
  book = join(folder, `book-${++count}.sqlite`);
});
const track = (...argv: string[]) => telltale('track', ...argv, '--book', book);
const log = (name: string, n: number, date?: string) => writeLog(join(folder, name), n, date);

describe('the bundled command line', () => {
  const main = join(root, 'packages/cli/bin/telltale.js');
  const start = (...argv: string[]) =>
    spawn(process.execPath, [main, 'track', ...argv, '--book', book], { stdio: 'ignore' });
  const many = (from: number, to: number): string => {
    const at = join(folder, `many-${count}`);
    mkdirSync(at, { recursive: true });
    for (let n = from; n < to; n++)
      log(join(`many-${count}`, `d${n}.csv`), 100 + n, `2020-01-${String(1 + (n % 28)).padStart(2, '0')}`);
    return at;
  };
  beforeAll(() => {
    expect(spawnSync(process.execPath, [join(root, 'scripts/build.mjs')]).status).toBe(0);
  });

  it('is killed while it adds a folder, and goes on where it stopped', async () => {
    const at = many(0, 30);
    let rounds = 0;
    for (; rounds < 40; rounds++) {
      const child = start('add', at, '--car', 'saloon', '--quiet');
      const ended = new Promise<number | null>((resolve) => child.once('exit', resolve));
      // Killed a little later each time, so that it is met in every part of its work.
      const killer = setTimeout(() => child.kill('SIGKILL'), 600 + 500 * rounds);
      const code = await ended;
      clearTimeout(killer);
      if (code === 0) break;
    }
    expect(rounds).toBeGreaterThan(0);
    expect(rounds).toBeLessThan(40);
    const { out } = await track('show', '--json');
    expect((JSON.parse(out) as { drives: number }).drives).toBe(30);
    expect((await track('add', at)).out).toBe('0 drives added, 30 already in the book\n');
  });

  it('keeps a report over another build of the same logbook', async () => {
    await track('add', log('kept.csv', 60, '2024-05-01'), '--car', 'saloon', '--quiet');
    const shown = () =>
      spawnSync(process.execPath, [main, 'track', 'show', '--json', '--book', book]).stdout.toString();
    const print = (): unknown => {
      const own = new Sqlite(book);
      try {
        return own.prepare('SELECT print FROM report').pluck().get();
      } finally {
        own.close();
      }
    };
    // Kept by the sources as they run here, then anew by the bundle.
    const before = print();
    const first = shown();
    const kept = print();
    expect(kept).not.toBe(before);
    const dist = join(root, 'packages/cli/dist');
    for (const name of readdirSync(dist)) utimesSync(join(dist, name), new Date(), new Date());
    expect(shown()).toBe(first);
    expect(print()).toBe(kept);
  });

  it('adds from several processes at once, each drive once', async () => {
    const at = many(0, 24);
    const codes = await Promise.all(
      [0, 1, 2].map(
        () =>
          new Promise<number | null>((resolve) => start('add', at, '--car', 'saloon', '--quiet').once('exit', resolve)),
      ),
    );
    expect(codes).toEqual([0, 0, 0]);
    expect((JSON.parse((await track('show', '--json')).out) as { drives: number }).drives).toBe(24);
  });
});
