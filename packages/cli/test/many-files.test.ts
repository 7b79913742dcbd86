import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { expandFolders } from '../src/files.js';
import { run } from '../src/program.js';
import { Interruption } from '../src/terminal/output.js';
import { Progress } from '../src/terminal/progress.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-many-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const log = (rows: number) =>
  `time [s],Engine speed [rpm],Coolant temperature [degC]\n${Array.from({ length: rows }, (_, i) => `${i},${800 + (i % 7)},${80 + (i % 3)}`).join('\n')}\n`;

interface Heard {
  code: number;
  out: string;
  err: string;
}

async function telltale(
  argv: readonly string[],
  onErr: (text: string, stop: Interruption) => void = () => undefined,
): Promise<Heard> {
  const heard: Heard = { code: -1, out: '', err: '' };
  const interruption = new Interruption(() => {
    throw new Error('ended');
  });
  heard.code = await run(
    argv,
    {
      out: (text) => {
        heard.out += text;
      },
      err: (text) => {
        heard.err += text;
        onErr(text, interruption);
      },
      width: 100,
      color: false,
      live: true,
      interruption,
    },
    '0.0.0',
  );
  return heard;
}

function folderOf(name: string, files: Readonly<Record<string, string | Uint8Array>>): string {
  const path = join(folder, name);
  mkdirSync(path, { recursive: true });
  for (const [file, content] of Object.entries(files)) writeFileSync(join(path, file), content);
  return path;
}

describe('a folder of logs', () => {
  it('is read file by file, in the order of the names, each with its own report', async () => {
    const path = folderOf('car', {
      'b.CSV': log(60),
      'a.csv.gz': gzipSync(log(50)),
      'c.txt': log(70),
      'notes.md': 'no log',
      '.hidden.csv': log(9),
    });
    mkdirSync(join(path, 'deeper.csv'), { recursive: true });
    const { code, out } = await telltale(['assess', path, '--json']);
    expect(code).toBe(0);
    const { inputs } = JSON.parse(out) as { inputs: { file: string; rows: number; sha256: string }[] };
    expect(inputs.map(({ file, rows }) => [file, rows])).toEqual([
      ['a.csv.gz', 50],
      ['b.CSV', 60],
      ['c.txt', 70],
    ]);
    expect(new Set(inputs.map(({ sha256 }) => sha256)).size).toBe(3);
  });

  it('gives the same document as its files named one by one', async () => {
    const path = folderOf('same', { 'x.csv': log(60), 'y.csv': log(80) });
    const one = await telltale(['assess', path, '--json']);
    const other = await telltale(['assess', join(path, 'x.csv'), join(path, 'y.csv'), '--json']);
    expect(one.out).toBe(other.out);
  });

  it('stays itself when no log is in it, and other paths stay as they are', async () => {
    const empty = folderOf('empty', { 'readme.md': 'x' });
    expect(await expandFolders([empty, 'nothing.csv'])).toEqual([empty, 'nothing.csv']);
    const { code, err } = await telltale(['assess', empty]);
    expect(code).toBe(3);
    expect(err).toContain(`telltale: is-directory: ${empty}: found a folder without a log file`);
  });
});

describe('Ctrl-C', () => {
  it('keeps what was read, names what was not, and exits with 130', async () => {
    const path = folderOf('stopped', { 'a.csv': log(60), 'b.csv': log(60), 'c.csv': log(60) });
    const { code, out, err } = await telltale(['assess', path, '--json'], (text, stop) => {
      if (text.includes('b.csv (2 of 3)') && !stop.requested) stop.request();
    });
    expect(code).toBe(130);
    const { inputs, results } = JSON.parse(out);
    expect(inputs[0]).toMatchObject({ file: 'a.csv', rows: 60 });
    for (const k of [1, 2]) expect(inputs[k]).toMatchObject({ kind: 'unusable', error: { code: 'interrupted' } });
    expect(results.length).toBeGreaterThan(5);
    expect(err).toContain(`telltale: interrupted: ${join(path, 'c.csv')}: not read`);
  });

  it('ends at once before a command keeps anything, and at the second time', () => {
    let ended = 0;
    const early = new Interruption(() => ended++);
    early.request();
    expect(ended).toBe(1);
    const late = new Interruption(() => ended++);
    let heard = 0;
    late.onRequest(() => heard++);
    late.keep();
    late.request();
    expect([ended, late.requested, heard]).toEqual([1, true, 1]);
    late.request();
    expect(ended).toBe(2);
  });
});

describe('progress', () => {
  const drawn = (live: boolean, quiet: boolean) => {
    const lines: string[] = [];
    let clock = 0;
    const terminal = { out: () => undefined, err: (text: string) => lines.push(text), width: 80, color: false, live };
    const progress = new Progress(terminal as never, quiet, 100e6, () => clock);
    progress.begin(0, 4, 'a\u001b[31m.csv');
    clock = 2000;
    progress.bytes(25e6);
    clock = 2010; // too soon to draw again
    progress.bytes(1);
    progress.begin(4, 4, '');
    return lines;
  };

  it('shows share, rate and time left, and is gone at the end', () => {
    const lines = drawn(true, false);
    expect(lines).toHaveLength(3);
    // 25 of 100 MB in 2 s: 12.5 MB/s, 6 s for the rest.
    expect(lines[1]).toBe('\r\u001b[2K[====            ]  25 % 12.5 MB/s, 6 s left a [31m.csv (1 of 4)');
    expect(lines[2]).toBe('\r\u001b[2K');
  });

  it('draws nothing when it is not wanted or nobody looks', () => {
    expect(drawn(true, true)).toEqual([]);
    expect(drawn(false, false)).toEqual([]);
  });
});
