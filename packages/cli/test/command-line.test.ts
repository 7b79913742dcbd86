import { spawn, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { chmodSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const bin = join(root, 'packages/cli/bin/telltale.js');
const demo = join(root, 'test-data/demo.csv');
const profile = join(root, 'test-data/demo.vehicle.yaml');

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-cli-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Outcome {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

function telltale(args: readonly string[], options: { cwd?: string; env?: Record<string, string> } = {}): Outcome {
  const done = spawnSync(process.execPath, [bin, ...args], {
    cwd: options.cwd ?? folder,
    env: { ...process.env, NO_COLOR: '', FORCE_COLOR: '', ...options.env },
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  });
  return { code: done.status, out: done.stdout, err: done.stderr };
}

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

function emptyFolder(name: string): string {
  const path = join(folder, name);
  mkdirSync(path, { recursive: true });
  return path;
}

/** Every complaint is one line: the tool's name, a stable code, what and where; never a stack. */
function expectComplaint(done: Outcome, exit: number, code: string): void {
  expect(done.code, done.err).toBe(exit);
  const lines = done.err.trim().split('\n');
  expect(
    lines.some((line) => line.startsWith(`telltale: ${code}: `)),
    done.err,
  ).toBe(true);
  for (const line of lines) expect(line).toMatch(/^telltale: [a-z0-9-]+: \S/);
  expect(done.err).not.toMatch(/\n\s+at /);
}

const GOOD = `time [s],Engine speed [rpm],Coolant temperature [degC]\n${Array.from({ length: 50 }, (_, i) => `${i},${800 + (i % 7)},${80 + (i % 3)}`).join('\n')}\n`;

describe('bad input', () => {
  const cases: readonly (readonly [string, string, () => string])[] = [
    ['an empty file', 'empty-file', () => file('empty.csv', '')],
    ['a folder', 'is-directory', () => emptyFolder('dir')],
    [
      'a binary file',
      'not-text',
      () =>
        file(
          'bin.csv',
          `${createHash('sha512').update('x').digest().subarray(0, 64).toString('latin1').repeat(40)}\0\0\0`,
        ),
    ],
    ['a missing file', 'no-file', () => join(folder, 'nothing.csv')],
    ['no header', 'no-header', () => file('headless.csv', '1,2,3\n2,3,4\n3,4,5\n')],
    [
      'no time',
      'no-time',
      () => file('timeless.csv', 'Engine speed [rpm],Coolant temperature [degC]\n800,80\n801,80\n802,81\n'),
    ],
    ['one row', 'too-few-rows', () => file('one.csv', 'time [s],Engine speed [rpm]\n0,800\n')],
    ['all cells empty', 'all-empty', () => file('blank.csv', `time [s],Engine speed [rpm]\n${',\n'.repeat(20)}`)],
    [
      'no recognised channel',
      'no-channel',
      () =>
        file(
          'alien.csv',
          `time [s],foo,bar\n${Array.from({ length: 20 }, (_, i) => `${i},${i * 2},${i * 3}`).join('\n')}\n`,
        ),
    ],
    [
      '10,000 columns',
      'too-wide',
      () =>
        file(
          'wide.csv',
          `time,${Array.from({ length: 10_000 }, (_, i) => `c${i}`).join(',')}\n${Array.from({ length: 3 }, (_, r) => `${r},${'1,'.repeat(9_999)}1`).join('\n')}\n`,
        ),
    ],
  ];

  test.each(cases)('%s is one clear line, exit 3, and the others are still assessed', (_name, code, make) => {
    const bad = make();
    const good = file('good.csv', GOOD);
    const done = telltale(['assess', bad, good, '--json']);
    expectComplaint(done, 3, code);
    const document = JSON.parse(done.out);
    expect(document.inputs.map((each: { kind: string }) => each.kind)).toEqual(['unusable', 'recording']);
    expect(document.inputs[0].error.code).toBe(code);
    expect(document.inputs[1].rows).toBe(50);
  });

  test('a single line of 200 MB is refused without reading it into memory', () => {
    const path = join(folder, 'line.csv');
    writeFileSync(path, Buffer.alloc(200_000_000, 0x31));
    const done = telltale(['assess', path]);
    rmSync(path);
    expectComplaint(done, 3, 'line-too-long');
  });

  test.skipIf(process.getuid?.() === 0 || process.platform === 'win32')('a file without read permission', () => {
    const path = file('locked.csv', GOOD);
    chmodSync(path, 0);
    expectComplaint(telltale(['assess', path]), 3, 'no-permission');
  });
});

describe('wrong usage', () => {
  test.each([
    [['asess', 'x.csv'], 'usage', 'assess'],
    [['assess', '--jsn', 'x.csv'], 'usage', '--json'],
    [['assess'], 'usage', 'file'],
    [['assess', 'x.csv', '--rate', 'fast'], 'usage', 'rate'],
    [['assess', 'x.csv', '--rate', '0'], 'usage', 'rate'],
    [['assess', 'x.csv', '--fail-at', 'bad'], 'usage', 'watch'],
    [['assess', 'x.csv', '--min-coverage', '2'], 'usage', '0 to 1'],
    [['assess', 'x.csv', '--json', '--markdown'], 'usage', 'one of them'],
    [['assess', 'x.csv', '--only', 'engine.nock'], 'unknown-rule', 'engine.knock'],
    [['rules', 'engine.nock'], 'unknown-rule', 'engine.knock'],
    [['assess', 'x.csv', '--vehicle', 'none.yaml'], 'no-file', 'none.yaml'],
    [['assess', 'x.csv', '--map', 'none.yaml'], 'no-file', 'none.yaml'],
    [['columns'], 'usage', 'file'],
  ] as const)('%j is refused with what was expected', (args, code, hint) => {
    const done = telltale([...args]);
    expectComplaint(done, 2, code);
    expect(done.err).toContain(hint);
    expect(done.out).toBe('');
  });

  test('a broken profile or map is named with line and column', () => {
    const good = file('good.csv', GOOD);
    const bad = file('car.yaml', 'schema: telltale/vehicle@1\nengine:\n  cylinders: six\n');
    const done = telltale(['assess', good, '--vehicle', bad]);
    expectComplaint(done, 2, 'bad-profile');
    expect(done.err).toContain('car.yaml:3:');
    const limit = file('limit.yaml', 'schema: telltale/vehicle@1\nlimits:\n  engine.knock:\n    wach: 3 deg\n');
    const wrong = telltale(['assess', good, '--vehicle', limit]);
    expectComplaint(wrong, 2, 'bad-profile');
    expect(wrong.err).toContain('limit.yaml:4:');
    expect(wrong.err).toContain('did you mean watch?');
    expectComplaint(telltale(['assess', good, '--map', file('m.yaml', 'columns: 3')]), 2, 'bad-map');
  });
});

describe('good manners', () => {
  test('--version and --help', () => {
    expect(telltale(['--version'])).toMatchObject({ code: 0, err: '' });
    expect(telltale(['--version']).out.trim()).toBe(
      JSON.parse(readFileSync(join(root, 'packages/cli/package.json'), 'utf8')).version,
    );
    for (const command of [[], ['assess'], ['columns'], ['rules']]) {
      const done = telltale([...command, '--help']);
      expect(done.code).toBe(0);
      expect(done.out).toContain('Examples:');
      for (const line of done.out.split('\n')) expect(line.length).toBeLessThanOrEqual(100);
    }
  });

  test('gzip, a clock over midnight and a map file work through the command line', () => {
    const packed = file('drive.csv.gz', gzipSync(GOOD));
    expect(telltale(['assess', packed, '--json']).code).toBe(0);
    const rows = Array.from(
      { length: 40 },
      (_, i) => `${i < 20 ? `23:59:${40 + i}` : `00:00:${String(i - 20).padStart(2, '0')}`};${800 + (i % 5)},5;x`,
    );
    const path = file('clock.csv', `Uhrzeit;Drehzahl [1/min];Geheim\n${rows.join('\n')}\n`);
    const map = file(
      'map.yaml',
      'schema: telltale/map@1\ntime: { column: Uhrzeit }\ncolumns: { "Drehzahl [1/min]": { channel: engineSpeed, unit: rpm } }\n',
    );
    const document = JSON.parse(telltale(['columns', path, '--map', map, '--json']).out);
    expect(document.input.duration).toEqual({ value: 39, unit: 's' });
    expect(document.input.channels[0]).toMatchObject({ id: 'engineSpeed', certainty: 'user' });
  });

  test('a closed standard output is no error', async () => {
    const good = file('good.csv', GOOD);
    const child = spawn(process.execPath, [bin, 'assess', good, '--json'], { stdio: ['ignore', 'pipe', 'pipe'] });
    child.stdout.destroy();
    let err = '';
    child.stderr.on('data', (chunk) => {
      err += chunk;
    });
    const code = await new Promise((resolve) => child.on('exit', resolve));
    expect(err).toBe('');
    expect(code).toBe(0);
  });

  test('works in a folder that cannot be written', () => {
    const good = file('good.csv', GOOD);
    const locked = join(folder, 'locked');
    mkdirSync(locked, { recursive: true });
    chmodSync(locked, 0o555);
    expect(telltale(['assess', good, '--json'], { cwd: locked }).code).toBe(0);
  });

  test('colours follow NO_COLOR, --no-color and the terminal', () => {
    const good = file('good.csv', GOOD);
    const escapes = new RegExp(`${String.fromCharCode(27)}\\[`);
    expect(telltale(['assess', good]).out).not.toMatch(escapes);
    expect(telltale(['assess', good], { env: { FORCE_COLOR: '1' } }).out).toMatch(escapes);
    expect(telltale(['assess', good], { env: { FORCE_COLOR: '1', NO_COLOR: '1' } }).out).not.toMatch(escapes);
    expect(telltale(['assess', good, '--no-color'], { env: { FORCE_COLOR: '1' } }).out).not.toMatch(escapes);
  });

  test('hostile column names and cells never reach the terminal as commands', () => {
    const path = file(
      'hostile.csv',
      `time [s],Engine speed [rpm],\u001b]0;owned\u0007\u001b[31m=cmd,__proto__,constructor\n${Array.from({ length: 20 }, (_, i) => `${i},${800 + i},\u001b[2J,1,2`).join('\n')}\n`,
    );
    for (const args of [
      ['assess', path],
      ['columns', path],
      ['assess', path, '--markdown'],
    ]) {
      const done = telltale(args);
      expect(done.code, done.err).toBe(0);
      expect([...(done.out + done.err)].filter((char) => char !== '\n' && /\p{Cc}/u.test(char))).toEqual([]);
    }
  });
});

test('the rules as JSON fit their schema', () => {
  const schema = JSON.parse(readFileSync(join(root, 'packages/core/schema/rules.json'), 'utf8'));
  const check = new Ajv2020({ strict: true }).compile(schema);
  expect(check(JSON.parse(telltale(['rules', '--json']).out)), JSON.stringify(check.errors)).toBe(true);
});

describe('the demo', () => {
  test.skipIf(!existsSync(demo))('gives the same bytes in any time zone and language, and fits its schema', () => {
    const plain = telltale(['assess', demo, '--vehicle', profile, '--json']);
    expect(plain.code).toBe(0);
    for (const env of [
      { TZ: 'Pacific/Kiritimati', LANG: 'de_DE.UTF-8', LC_ALL: 'de_DE.UTF-8' },
      { TZ: 'America/St_Johns', LANG: 'tr_TR.UTF-8', LC_ALL: 'tr_TR.UTF-8' },
    ]) {
      expect(telltale(['assess', demo, '--vehicle', profile, '--json'], { env }).out).toBe(plain.out);
    }
    const schema = JSON.parse(readFileSync(join(root, 'packages/core/schema/assessment.json'), 'utf8'));
    const check = new Ajv2020({ strict: true }).compile(schema);
    expect(check(JSON.parse(plain.out)), JSON.stringify(check.errors)).toBe(true);
    expect(plain.out).not.toContain(root);
  });

  test('--fail-at and --min-coverage set the exit code', () => {
    const base = ['assess', demo, '--vehicle', profile, '--json'];
    expect(telltale([...base, '--fail-at', 'repair']).code).toBe(1);
    expect(telltale([...base, '--fail-at', 'stop']).code).toBe(0);
    expect(telltale(['assess', file('good.csv', GOOD), '--min-coverage', '0.9']).code).toBe(1);
    expect(telltale([...base, '--min-coverage', '0']).code).toBe(0);
    expect(telltale([...base, join(folder, 'nothing.csv'), '--fail-at', 'watch']).code).toBe(3);
  });

  test('--only runs the named rules, also when the file follows', () => {
    const document = JSON.parse(telltale(['assess', '--json', '--only', 'engine.knock', 'fuel', demo]).out);
    const rules = document.results.map((each: { rule: string }) => each.rule);
    expect(rules).toContain('engine.knock');
    expect(rules.every((id: string) => id === 'engine.knock' || id.startsWith('fuel.'))).toBe(true);
  });

  test.each([60, 80, 120])('fits a terminal of %d columns', async (width) => {
    const { renderText, assess, assessmentDocument, RULES } = await import('@telltale/core');
    const assessment = await assess([{ name: 'demo.csv', source: readFileSync(demo) }]);
    for (const line of renderText(assessmentDocument(assessment, RULES), { width }).split('\n')) {
      expect([...line].length, line).toBeLessThanOrEqual(Math.min(width, 100));
    }
  });
});
