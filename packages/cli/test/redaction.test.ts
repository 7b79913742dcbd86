import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../src/program.js';

/** Invented; the identification number has the form of ISO 3779 only. */
const NUMBER = 'ZZ9ABCDE5FG012345';
const PERSON = 'Ada Examplewoman';
const MAIL = 'ada@example.org';
const PHONE = '+49 170 1234567';
const POSITION = '48.137154, 11.576124';
const PATH = ['', 'srv', 'ada', 'hidden-folder'].join('/');
const LABEL = 'AB-CD 1234 blue';
const EVERYTHING = `${NUMBER} Driver: ${PERSON}; ${MAIL} ${PHONE} ${POSITION} ${PATH}/x.csv`;
const SECRETS = [NUMBER, 'Examplewoman', MAIL, '1234567', '48.137154', 'hidden-folder', 'AB-CD', 'quiet-street'];

const folder = mkdtempSync(join(tmpdir(), 'telltale-redaction-'));
const car = join(folder, `quiet-street ${NUMBER}`);
const at = (name: string): string => join(car, name);
const log = (label: string): string =>
  [
    `Driver: ${PERSON}`,
    `VIN: ${NUMBER}`,
    `Time [s];Engine speed [rpm];Vehicle speed [km/h];Coolant temperature [°C];${label}`,
    ...Array.from(
      { length: 400 },
      (_, i) => `${i / 4};${800 + (i % 90)};${i % 30};${20 + (i >> 3)};"${MAIL} ${NUMBER}"`,
    ),
  ].join('\n');

/** Drive, stored values, codes, and a file that cannot be read; every text of the user's own holds something private. */
const FILES: Readonly<Record<string, string>> = {
  [`${LABEL}.csv`]: log(EVERYTHING.replaceAll(';', ',')),
  [`stored ${NUMBER}.csv`]: `name,value,unit\nOdometer instrument cluster,42000,km\nOdometer engine control unit,88000,km\n"Note ${EVERYTHING}",1,\nVIN,${NUMBER},\nLaunch count,70,\n"Calibration ID engine",${NUMBER},\n`,
  [`codes ${NUMBER}.csv`]: `control unit,code,status,description\n"Engine ${NUMBER} ${MAIL}",P0301,stored,"${EVERYTHING}"\n"Engine",P0301 ${MAIL},stored,\n`,
  [`broken ${NUMBER} ${LABEL}.csv`]: `Driver: ${PERSON} ${MAIL}`,
};
const SIDE: Readonly<Record<string, string>> = {
  'vehicle.yaml': `schema: telltale/vehicle@1\nid: ${LABEL}\nengine: { revLimit: 7000 rpm }\nclaims: { distance: 42000 km, launches: 0, owner: ${PERSON}, contact: ${MAIL}, seenAt: "${POSITION}" }\n`,
  'sheet.yaml': `schema: telltale/sheet@1\npoints:\n  leaks.oil: { state: repair, note: "${EVERYTHING}" }\n  "note.${MAIL}": { state: watch, note: "${NUMBER}" }\n`,
  'prices.yaml': `schema: telltale/prices@1\ncurrency: EUR\nprices: { leaks: [10, 20], "note.${MAIL}": 5 }\n`,
  'map.yaml': `schema: telltale/map@1\ncolumns: { "Note ${NUMBER} ${MAIL}": { channel: null } }\n`,
};

beforeAll(() => {
  mkdirSync(car, { recursive: true });
  for (const [name, text] of Object.entries({ ...FILES, ...SIDE })) writeFileSync(at(name), text);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function telltale(...argv: string[]): Promise<string> {
  let out = '';
  const write = (text: string): void => {
    out += text;
  };
  const terminal = { out: write, err: write, width: 100, color: false, live: false };
  try {
    await run(argv, terminal, '0');
  } catch (error) {
    const { code, message } = error as { code: string; message: string };
    out += `${code}: ${message}`;
  }
  return out;
}

function clean(text: string): void {
  const words = text.replace(/\s+/g, ' ').toLowerCase();
  for (const secret of SECRETS) {
    const place = words.indexOf(secret.toLowerCase());
    expect(place < 0 ? '' : words.slice(Math.max(0, place - 80), place + 60), secret).toBe('');
  }
}

const sides = (...kinds: string[]): string[] => kinds.flatMap((kind) => [`--${kind}`, at(`${kind}.yaml`)]);
const inputs = (): string[] => Object.keys(FILES).map(at);

it('what is searched for is there without --redact', async () => {
  const text = await telltale('assess', ...inputs(), ...sides('vehicle', 'sheet', 'prices', 'map'));
  for (const secret of [NUMBER, MAIL, 'AB-CD', PERSON]) expect(text.replace(/\s+/g, ' ')).toContain(secret);
});

describe('with --redact nothing private is left', () => {
  it.each([[[]], [['--json']], [['--markdown']]])('of assess %j', async (format) =>
    clean(await telltale('assess', ...inputs(), ...sides('vehicle', 'sheet', 'prices', 'map'), '--redact', ...format)),
  );

  it.each([[[]], [['--json']], [['--markdown']]])('of columns %j', async (format) =>
    clean(await telltale('columns', at(`${LABEL}.csv`), ...sides('vehicle', 'map'), '--redact', ...format)),
  );

  it.each([[[]], [['--json']], [['--markdown']]])('of shortlist %j', async (format) =>
    clean(await telltale('shortlist', car, at(`${LABEL}.csv`), '--redact', ...format)),
  );

  it.each([[[]], [['--json']], [['--markdown']]])(
    'of plan %j, from an assessment and from a profile',
    async (format) => {
      const result = join(folder, 'result.json');
      writeFileSync(result, await telltale('assess', at(`${LABEL}.csv`), ...sides('vehicle'), '--json', '--quiet'));
      clean(await telltale('plan', result, ...sides('vehicle'), '--redact', ...format));
      clean(await telltale('plan', ...sides('vehicle'), '--redact', ...format));
    },
  );

  it.each(['assess', 'shortlist', 'plan'])('of the page of %s', async (command) => {
    const page = join(folder, `${command}.html`);
    const given =
      command === 'plan'
        ? sides('vehicle')
        : command === 'shortlist'
          ? [car]
          : [...inputs(), ...sides('vehicle', 'sheet', 'prices', 'map')];
    await telltale(command, ...given, '--redact', '--html', page);
    clean(readFileSync(page, 'utf8').replace(/<[^>]*>/g, ' '));
    clean(readFileSync(page, 'utf8'));
  });

  it.each([
    ['vehicle', `schema: telltale/vehicle@1\nengine: { revLimit: "${MAIL} ${NUMBER}" }\n`],
    ['sheet', `schema: telltale/sheet@1\npoints: { leaks.oil: "${NUMBER} ${MAIL}" }\n`],
    ['prices', `schema: telltale/prices@1\ncurrency: EUR\nprices: { "${MAIL}": "${NUMBER}" }\n`],
    ['map', `schema: telltale/map@1\ncolumns: { "${MAIL}": { channel: "${NUMBER}" } }\n`],
  ])('of the faults of a %s file, and their lines stay', async (kind, text) => {
    const path = join(car, `${LABEL} bad-${kind}.yaml`);
    writeFileSync(path, text);
    const told = await telltale('assess', at(`${LABEL}.csv`), `--${kind}`, path, '--redact');
    rmSync(path);
    clean(told);
    expect(told).toMatch(/:[23]:\d+: /);
  });

  it('of a file that is absent', async () =>
    clean(await telltale('assess', at(`absent ${LABEL}.csv`), ...sides('vehicle'), '--redact')));
});
