import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { MEMORY_SETTINGS, wantsLargeMemory } from '../src/large-memory.js';

const folder = mkdtempSync(join(tmpdir(), 'telltale-large-'));
const large = join(folder, 'large.csv');
const small = join(folder, 'small.csv');
writeFileSync(large, 'Time [s],Engine speed [rpm]\n');
// A hole in the file: large without being written.
truncateSync(large, 60e6);
writeFileSync(small, 'Time [s],Engine speed [rpm]\n0,800\n1,810\n');
afterAll(() => rmSync(folder, { recursive: true }));

const MADVISE = 'always [madvise] never\n';
const telltale = fileURLToPath(new URL('../bin/telltale.js', import.meta.url));

describe('a second process with other settings of the allocator', () => {
  it('is for large files where the kernel gives large pages to who asks', () => {
    expect(wantsLargeMemory(['assess', large], {}, MADVISE)).toBe(true);
    expect(wantsLargeMemory(['assess', folder], {}, MADVISE)).toBe(true);
    expect(wantsLargeMemory(['assess', small, '--json'], {}, MADVISE)).toBe(false);
    expect(wantsLargeMemory(['track', 'show', '--book', large], {}, MADVISE)).toBe(false);
    expect(wantsLargeMemory(['assess', join(folder, 'absent.csv')], {}, MADVISE)).toBe(false);
    expect(wantsLargeMemory(['assess', large], {}, '[always] madvise never\n')).toBe(false);
    expect(wantsLargeMemory(['assess', large], {}, '')).toBe(false);
  });

  it('leaves settings of the user alone, and is not started from itself', () => {
    expect(wantsLargeMemory(['assess', large], { GLIBC_TUNABLES: '' }, MADVISE)).toBe(false);
    expect(wantsLargeMemory(['assess', large], { TELLTALE_LARGE_MEMORY: '1' }, MADVISE)).toBe(false);
  });

  it('answers as the first would: words, streams and exit code', () => {
    const run = (environment: NodeJS.ProcessEnv) =>
      spawnSync(process.execPath, [telltale, 'assess', large, small, '--json'], {
        encoding: 'utf8',
        env: { ...process.env, ...environment },
      });
    const direct = run({ GLIBC_TUNABLES: MEMORY_SETTINGS });
    const handed = run({});
    expect(direct.status).toBe(3);
    expect(handed.status).toBe(3);
    expect(handed.stdout).toBe(direct.stdout);
    expect(handed.stderr).toBe(direct.stderr);
    expect(JSON.parse(handed.stdout).inputs).toHaveLength(2);
  });
});
