import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { assess, type ChunkJob, type ObservationJob, type ReadingHelper, readTable, toJson } from '@telltale/core';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { fileBytes, ownFileBytes } from '../src/file-bytes.js';
import { SecondThread, secondThread } from '../src/second-thread.js';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const script = join(root, 'packages', 'cli', 'dist', 'scan-worker.cjs');
const folder = mkdtempSync(join(tmpdir(), 'telltale-thread-'));
const path = join(folder, 'log.csv');
const text = `time [s],a,b\n${Array.from({ length: 60_000 }, (_, i) => `${(i / 50).toFixed(2)},${(i * 7919) % 10_007},${-i / 8}\n`).join('')}`;

beforeAll(() => {
  writeFileSync(path, text);
  if (!existsSync(script)) execFileSync(process.execPath, [join(root, 'scripts', 'build.mjs')], { stdio: 'ignore' });
}, 120_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('the bytes of a file', () => {
  it.each([0, 1, 524_287, 524_288, 1_000_000])('from byte %d on', async (from) => {
    for (const read of [fileBytes, ownFileBytes]) {
      const parts: Uint8Array[] = [];
      let counted = 0;
      for await (const piece of read(path, (count) => (counted += count), from)) parts.push(piece.slice());
      expect(Buffer.concat(parts).toString('latin1')).toBe(text.slice(from));
      expect(counted).toBe(text.length - from);
    }
  });

  it('are let go by who has enough, and told missing by who asks', async () => {
    for (const read of [fileBytes, ownFileBytes]) {
      for await (const piece of read(path)) {
        expect(piece.length).toBeGreaterThan(0);
        break;
      }
      await expect(read(join(folder, 'none.csv')).next()).rejects.toThrow('ENOENT');
    }
  });
});

describe('the second thread', () => {
  it('gives the table that one thread gives', async () => {
    const one = await readTable(fileBytes(path), { name: 'log.csv', size: text.length });
    for (const waits of [true, false]) {
      const helper = new SecondThread(path, pathToFileURL(script), 0).forReading(false);
      let done: Promise<unknown> = Promise.resolve();
      const answers: unknown[] = [];
      const watched: ReadingHelper = {
        ...helper,
        scan(job) {
          const answer = helper.scan(job);
          done = answer.then(
            (flags) => answers.push(flags),
            () => undefined,
          );
          return answer;
        },
        // The first thread hashes all bytes before it reads any: here the second one reads meanwhile.
        async *bytes(from) {
          if (waits) await done;
          yield* helper.bytes!(from);
        },
      };
      const limits = { inPlaceBytes: 0, chunkBytes: 1000 };
      const options = { name: 'log.csv', size: text.length, limits };
      expect(await readTable(fileBytes(path), { ...options, helper: watched })).toEqual(one);
      if (waits) expect(answers.at(-1)).toMatchObject({ gaps: expect.any(Int32Array) });
    }
  });

  /** A table that is read in chunks, though it is small. */
  const inChunks = { name: 'log.csv', size: text.length, limits: { inPlaceBytes: 0, chunkBytes: 1000 } };

  it('falls back to one thread when it cannot start', async () => {
    const one = await readTable(fileBytes(path), { name: 'log.csv', size: text.length });
    const helper = new SecondThread(path, pathToFileURL(join(folder, 'absent.js')), 0).forReading(false);
    const scan = vi.spyOn(helper, 'scan');
    expect(await readTable(fileBytes(path), { ...inChunks, helper })).toEqual(one);
    expect(scan).toHaveBeenCalled();
  });

  it('is not waited for once it was told to close', async () => {
    const one = await readTable(fileBytes(path), { name: 'log.csv', size: text.length });
    const helper = new SecondThread(path, pathToFileURL(script), 0).forReading(false);
    let asked = 0;
    const closing: ReadingHelper = {
      ...helper,
      scan(job) {
        asked++;
        const scanning = helper.scan(job);
        helper.close();
        return scanning;
      },
    };
    expect(await readTable(fileBytes(path), { ...inChunks, helper: closing })).toEqual(one);
    expect(asked).toBe(1);
  });

  it('helps the rules as well, and changes nothing by it', async () => {
    const log = join(root, 'test-data', 'demo.csv');
    const { size } = statSync(log);
    const assessed = async (thread?: SecondThread) => {
      const own = thread === undefined ? {} : { helper: thread.forReading(true), observer: thread.forRules() };
      return toJson(await assess([{ name: 'demo.csv', size, source: fileBytes(log), ...own }]));
    };
    expect(await assessed(new SecondThread(log, pathToFileURL(script), 0))).toBe(await assessed());
  }, 60_000);

  it('gets its own answers, and starts anew when it died', async () => {
    const log = join(root, 'test-data', 'demo.csv');
    const { size } = statSync(log);
    const read = { name: 'demo.csv', size, source: fileBytes(log) };
    const alone = toJson(await assess([read]));
    const late = new SecondThread(log, pathToFileURL(script), 0);
    const helper = late.forReading(true);
    // Asked to read, and not waited for.
    const unheard = {
      ...helper,
      scan(job: ChunkJob) {
        helper.scan(job).catch(() => undefined);
        return Promise.reject(new Error('not waited for'));
      },
    };
    const own = { helper: unheard, observer: late.forRules() };
    expect(toJson(await assess([{ ...read, source: fileBytes(log), ...own }]))).toBe(alone);
    const deadly = join(folder, 'dies.cjs');
    writeFileSync(
      deadly,
      "require('node:worker_threads').parentPort.on('message', () => { throw new Error('dead'); });",
    );
    const dying = new SecondThread(log, pathToFileURL(deadly), 0);
    const broken = { helper: dying.forReading(true), observer: dying.forRules() };
    expect(toJson(await assess([{ ...read, source: fileBytes(log), ...broken }]))).toBe(alone);
  }, 60_000);

  it('is waited for when an older question is answered meanwhile', () => {
    // In a process of its own, which ends when nobody is waited for.
    const worker = join(folder, 'answers.cjs');
    writeFileSync(
      worker,
      `const { parentPort } = require('node:worker_threads');
      parentPort.on('message', ({ question }) => setTimeout(() => parentPort.postMessage({ question, answer: [] }), 300 * question));`,
    );
    const asking = join(folder, 'asking.ts');
    writeFileSync(
      asking,
      `import { SecondThread } from ${JSON.stringify(join(root, 'packages', 'cli', 'src', 'second-thread.ts'))};
      const thread = new SecondThread('none', new URL(${JSON.stringify(pathToFileURL(worker).href)}), 0);
      void thread.forReading(true).scan({} as never);
      await thread.forRules().observe({} as never);
      process.stdout.write('answered');`,
    );
    const run = [join(root, 'scripts', 'run.mjs'), asking];
    expect(execFileSync(process.execPath, run, { cwd: root, encoding: 'utf8' })).toBe('answered');
  }, 60_000);

  it('is halted while it reads, and not while it looks at rules', async () => {
    const log = join(root, 'test-data', 'demo.csv');
    const { size } = statSync(log);
    const assessed = async (phase: 'scan' | 'observe') => {
      const thread = new SecondThread(log, pathToFileURL(script), 0);
      const { observe, close } = thread.forRules();
      const helper = thread.forReading(true);
      const how: string[] = [];
      const told = <T>(answer: Promise<T>, part: string): Promise<T> => {
        if (part === phase) thread.halt();
        return answer.then(
          (value) => {
            how.push(`${part} answered`);
            return value;
          },
          (error) => {
            how.push(`${part} ended`);
            throw error;
          },
        );
      };
      const own = {
        helper: { ...helper, scan: (job: ChunkJob) => told(helper.scan(job), 'scan') },
        observer: { observe: (job: ObservationJob) => told(observe(job), 'observe'), close },
      };
      await assess([{ name: 'demo.csv', size, source: fileBytes(log), ...own }]);
      return how;
    };
    // How often it is asked to read, and comes too late, is a matter of time.
    expect([...new Set(await assessed('scan'))]).toEqual(['scan ended', 'observe answered']);
    expect([...new Set(await assessed('observe'))]).toEqual(['scan answered', 'observe answered']);
  }, 60_000);

  it('is for large files only', () => {
    expect(secondThread(path, 1e6, pathToFileURL(script))).toBeUndefined();
    expect(secondThread(path, 1e9, pathToFileURL(join(folder, 'absent.js')))).toBeUndefined();
  });
});
