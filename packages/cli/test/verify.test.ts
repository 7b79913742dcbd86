import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { run } from '../src/program.js';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const session = (name: string): string => join(root, 'test-data/sessions', name);
const folder = mkdtempSync(join(tmpdir(), 'telltale-verify-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function telltale(...argv: string[]): Promise<{ code: number; out: string; err: string }> {
  let out = '';
  let err = '';
  const terminal = {
    out: (text: string) => {
      out += text;
    },
    err: (text: string) => {
      err += text;
    },
    width: 80,
    color: false,
    live: false,
  };
  try {
    return { code: await run(argv, terminal, '0'), out, err };
  } catch (error) {
    const { code, message, exit } = error as { code: string; message: string; exit: number };
    return { code: exit, out, err: `${err}${code}: ${message}` };
  }
}

const BOTH = ['verify', '--after', session('after.csv.gz'), '--before', session('before.csv.gz'), '--quiet'];

describe('telltale verify', () => {
  it('prints the sheet, and writes it as a page', async () => {
    const page = join(folder, 'sheet.html');
    const tables = join(folder, 'tables');
    const { code, out } = await telltale(
      ...BOTH,
      '--vehicle',
      session('vehicle.yaml'),
      '--html',
      page,
      '--tables',
      tables,
    );
    expect(code).toBe(0);
    expect(out).toMatch(/^Map sign-off: limits broken {2}demo-saloon/);
    expect(out).toMatch(/BEFORE AND AFTER {2}gear 3/);
    expect(readFileSync(page, 'utf8')).toMatch(/<h1[^>]*>.*Map sign-off/);
    expect(readdirSync(tables)).toContain('knock-cylinder-3.csv');
  });

  it('prints JSON, with own limits and targets', async () => {
    const { code, out } = await telltale(
      ...BOTH,
      '--limits',
      session('limits.yaml'),
      '--targets',
      session('targets.yaml'),
      '--json',
      '--redact',
    );
    expect(code).toBe(0);
    expect(JSON.parse(out)).toMatchObject({ schema: 'telltale/verification@1' });
    expect(out).not.toMatch(/after\.csv/);
  });

  it('prints markdown', async () => {
    const { out } = await telltale(...BOTH, '--markdown');
    expect(out).toMatch(/^# \**Map sign-off/);
  });

  it('refuses wrong usage and bad side files, and tells of an unusable input', async () => {
    expect(await telltale('verify')).toMatchObject({ code: 2, err: expect.stringMatching(/--after FILE/) });
    expect((await telltale(...BOTH, '--json', '--markdown')).code).toBe(2);
    const bad = join(folder, 'limits.yaml');
    writeFileSync(bad, 'schema: telltale/limits@1\nlimits: { knock.worst: 3 }\n');
    expect(await telltale(...BOTH, '--limits', bad)).toMatchObject({
      code: 2,
      err: expect.stringMatching(/bad-limits/),
    });
    const nothing = join(folder, 'nothing.csv');
    writeFileSync(nothing, 'nothing');
    expect((await telltale('verify', '--after', session('after.csv.gz'), nothing, '--json')).code).toBe(3);
  });
});
