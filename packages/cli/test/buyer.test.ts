import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../src/program.js';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'telltale-buyer-'));
const demo = (name: string): string => join(root, 'test-data', name);
const at = (name: string): string => join(folder, name);
const schema = (name: string) =>
  new Ajv2020({ strict: true }).compile(JSON.parse(readFileSync(join(root, 'packages/core/schema', name), 'utf8')));

interface Answer {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

async function telltale(...argv: string[]): Promise<Answer> {
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

/** A short log: enough to be read, too short to show much. */
const log = (seed: number): string =>
  `time [s],Engine speed [rpm],Vehicle speed [km/h]\n${Array.from({ length: 200 }, (_, i) => `${i / 10},${800 + ((i * seed) % 90)},${(i * seed) % 30}`).join('\n')}\n`;

beforeAll(() => {
  for (const name of ['one', 'two/one', 'bad']) mkdirSync(at(name), { recursive: true });
  writeFileSync(at('one/drive.csv'), log(3));
  copyFileSync(demo('demo.vehicle.yaml'), at('one/car.yaml'));
  writeFileSync(
    at('one/sheet.yaml'),
    'schema: telltale/sheet@1\npoints: { leaks.oil: { state: repair, note: drips } }\n',
  );
  writeFileSync(at('two/one/drive.csv'), log(7));
  writeFileSync(at('bad/drive.csv'), 'nothing');
  writeFileSync(at('prices.yaml'), 'schema: telltale/prices@1\ncurrency: EUR\nprices: { leaks: [10, 20] }\n');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('telltale plan', () => {
  it('gives a document of its schema, from a profile and from an assessment', async () => {
    const all = await telltale('plan', '--vehicle', demo('demo.vehicle.yaml'), '--json');
    const check = schema('plan.json');
    expect(check(JSON.parse(all.out)), JSON.stringify(check.errors)).toBe(true);
    const assessed = await telltale('assess', at('one/drive.csv'), '--json');
    writeFileSync(at('result.json'), assessed.out);
    const open = await telltale('plan', at('result.json'), '--json');
    expect(check(JSON.parse(open.out)), JSON.stringify(check.errors)).toBe(true);
    expect(JSON.parse(open.out)).toMatchObject({ basis: 'assessment' });
  });

  it('refuses what is no assessment, and says what is', async () => {
    expect(await telltale('plan', at('one/drive.csv'))).toMatchObject({
      code: 2,
      err: expect.stringMatching(/bad-assessment: .*--json/) as string,
    });
    expect(await telltale('plan', join(root, 'package.json'))).toMatchObject({ code: 2 });
    expect(await telltale('plan', at('absent.json'))).toMatchObject({
      code: 2,
      err: expect.stringMatching(/no such file/) as string,
    });
  });

  it('writes the empty sheet once, and never over a filled-in one', async () => {
    expect((await telltale('plan', '--sheet')).out).toMatch(/^# Walk-round sheet[\s\S]*schema: telltale\/sheet@1/);
    expect((await telltale('plan', '--sheet', at('new.yaml'))).code).toBe(0);
    writeFileSync(at('new.yaml'), `${readFileSync(at('new.yaml'), 'utf8')}# mine\n`);
    expect(await telltale('plan', '--sheet', at('new.yaml'))).toMatchObject({
      code: 2,
      err: expect.stringMatching(/file-exists/) as string,
    });
    expect(readFileSync(at('new.yaml'), 'utf8')).toMatch(/# mine$/m);
  });
});

describe('telltale assess with sheet and prices', () => {
  it('shows what was seen apart, and the sum', async () => {
    const { code, out } = await telltale(
      'assess',
      at('one/drive.csv'),
      '--sheet',
      at('one/sheet.yaml'),
      '--prices',
      at('prices.yaml'),
    );
    expect(code).toBe(0);
    expect(out).toMatch(/^Buyer: NEGOTIATE/);
    expect(out).toMatch(/SEEN BY EYE[\s\S]*leaks\.oil +repair +drips/);
    expect(out).toMatch(/sum +10 +20/);
    const json = await telltale(
      'assess',
      at('one/drive.csv'),
      '--sheet',
      at('one/sheet.yaml'),
      '--prices',
      at('prices.yaml'),
      '--json',
    );
    const check = schema('assessment.json');
    expect(check(JSON.parse(json.out)), JSON.stringify(check.errors)).toBe(true);
  });

  it('refuses a wrong sheet or price list with the line', async () => {
    writeFileSync(at('wrong.yaml'), 'schema: telltale/sheet@1\npoints:\n  a.b: fine\n');
    expect(await telltale('assess', at('one/drive.csv'), '--sheet', at('wrong.yaml'))).toMatchObject({
      code: 2,
      err: expect.stringMatching(/bad-sheet: walk-round sheet wrong\.yaml:3:/) as string,
    });
    expect(await telltale('assess', at('one/drive.csv'), '--prices', at('wrong.yaml'))).toMatchObject({
      code: 2,
      err: expect.stringMatching(/bad-prices: .*telltale\/prices@1/) as string,
    });
  });
});

describe('telltale shortlist', () => {
  it('ranks folders with their own side files, and tells equal names apart', async () => {
    const { code, out } = await telltale('shortlist', at('one'), at('two/one'), '--json');
    const list = JSON.parse(out) as { candidates: { name: string; vehicle: { id: string } }[] };
    const check = schema('shortlist.json');
    expect(check(list), JSON.stringify(check.errors)).toBe(true);
    expect(code).toBe(0);
    expect(list.candidates.map(({ name }) => name).sort()).toEqual(['one', 'one (2)']);
    expect(list.candidates.find(({ name }) => name === 'one')!.vehicle.id).toBe('demo-saloon');
  });

  it('goes on beside a candidate that cannot be read, and names nothing private when asked not to', async () => {
    const { code, out, err } = await telltale('shortlist', at('one'), at('bad'), '--redact', '--json');
    expect(code).toBe(3);
    expect(err).toMatch(/no-header: candidate 2 of 2: no row/);
    expect(out).not.toMatch(/demo-saloon|"one"|"bad"/);
    expect(out).toMatch(/candidate-2/);
    expect(existsSync(at('bad'))).toBe(true);
  });
});
