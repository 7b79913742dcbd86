import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { jsonSchemas } from '../../src/docs/schemas.js';
import { assess } from '../../src/engine/assess.js';
import type { Assessment } from '../../src/engine/assessment.js';
import { explainColumns } from '../../src/engine/load.js';
import { toJson } from '../../src/report/json.js';

const data = fileURLToPath(new URL('../../../../../shared/data/', import.meta.url));
const present = existsSync(data);
if (!present) console.warn('open-recordings.test: ../shared/data is absent, real recordings are not checked');

const read = (path: string): { name: string; source: Uint8Array } => ({
  name: path.split('/').at(-1) ?? path,
  source: new Uint8Array(readFileSync(data + path)),
});

const cache = new Map<string, Promise<Assessment>>();
function assessed(path: string): Promise<Assessment> {
  const known = cache.get(path) ?? assess([read(path)]);
  cache.set(path, known);
  return known;
}

/** Facts from the SOURCE.md beside each recording; distances within 1 %. */
const RECORDINGS = [
  { path: 'jrc-rde-sample/Sample_Data_Exchange_File.csv', rows: 6428, kilometres: 90.553, headerLine: 198 },
  { path: 'carobd/drive5.csv', rows: 627, headerLine: 1 },
  { path: 'carobd/idle1.csv', rows: 1213, headerLine: 1 },
  { path: 'carobd/live6.csv', rows: 2287, headerLine: 1 },
  { path: 'carobd/live20.csv', rows: 2407, headerLine: 1 },
  { path: 'nrel-fastsim-cycles/udds.csv', rows: 1370, kilometres: 11.9904, headerLine: 1 },
  { path: 'nrel-fastsim-cycles/hwfet.csv', rows: 766, kilometres: 16.5068, headerLine: 1 },
  { path: 'nrel-fastsim-cycles/us06.csv', rows: 601, kilometres: 12.8876, headerLine: 1 },
  { path: 'nrel-fastsim-cycles/wltc_3b.csv', rows: 1801, kilometres: 23.2663, headerLine: 1 },
  { path: 'nrel-tsdc-cmap/4033363_3_2007-08-20.csv', rows: 2686, headerLine: 1 },
  { path: 'jrc-wltp-gearshift/case1_derived.csv', rows: 1801, kilometres: 23.2663, headerLine: 1 },
] as const;

describe.skipIf(!present).each(RECORDINGS)('$path', (facts) => {
  test('is read as it is, and nothing is found that is not there', async () => {
    const assessment = await assessed(facts.path);
    const [input] = assessment.inputs;
    expect(input?.error).toBeUndefined();
    expect(input?.kind).toBe('recording');
    expect(Math.abs((input?.rows ?? 0) - facts.rows)).toBeLessThanOrEqual(1);
    expect(input?.dialect?.headerLine).toBe(facts.headerLine);
    if ('kilometres' in facts) expect(Math.abs(input!.distance!.value / facts.kilometres - 1)).toBeLessThan(0.01);
    expect(assessment.results.filter((each) => each.outcome === 'finding').map((each) => each.summary)).toEqual([]);
    expect(assessment.results.filter((each) => each.outcome === 'error')).toEqual([]);
    expect(assessment.verdict.level).toBe('unproven');
  });

  test('gives a document that fits the schema, and names what is missing', async () => {
    const assessment = await assessed(facts.path);
    const schemas = jsonSchemas();
    const ajv = new Ajv2020({ strict: true });
    const check = ajv.compile(schemas['assessment.json']!);
    expect(check(JSON.parse(toJson(assessment))), JSON.stringify(check.errors)).toBe(true);
    const columns = ajv.compile(schemas['columns.json']!);
    expect(columns(JSON.parse(toJson(await explainColumns(read(facts.path))))), JSON.stringify(columns.errors)).toBe(
      true,
    );
    for (const result of assessment.results) {
      if (result.outcome !== 'unproven') continue;
      expect(result.missing.channels.length + result.missing.conditions.length, result.rule).toBeGreaterThan(0);
    }
  });
});

describe.skipIf(!present)('what the regulation road trip shows (SOURCE.md)', () => {
  test('right channels and units; sentinel columns rejected; nothing private', async () => {
    const assessment = await assessed('jrc-rde-sample/Sample_Data_Exchange_File.csv');
    const input = assessment.inputs[0]!;
    const channel = (id: string) => input.channels.find((each) => each.id === id);
    expect(channel('coolantTemperature')).toMatchObject({
      sourceUnit: 'K',
      unit: 'degC',
      range: { low: 17, high: 99 },
    });
    expect(channel('vehicleSpeed')!.range!.high).toBeCloseTo(127.9, 1);
    expect(channel('engineTorque')!.range!.high).toBeLessThan(1000);
    expect(channel('engineOilTemperature')).toBeUndefined();
    expect(input.problems.some((problem) => problem.code === 'sentinels-removed' && problem.count === 46)).toBe(true);
    const json = toJson(assessment);
    // Preamble text and positions never reach JSON.
    for (const secret of ['Name Surname', 'Driver Driver', 'Ispra', 'Qwerty', '31:23.9'])
      expect(json).not.toContain(secret);
  });
});

describe.skipIf(!present)('idle, where minutes of it were recorded (SOURCE.md: 650 to 710 rpm)', () => {
  test('carobd/idle1.csv: judged although it brings one value in two seconds', async () => {
    const result = (await assessed('carobd/idle1.csv')).results.find(({ rule }) => rule === 'engine.idle')!;
    expect(result.outcome).toBe('clear');
    const level = Number(/idle of (\d+) rpm/.exec(result.summary)?.[1]);
    expect(level).toBeGreaterThanOrEqual(650);
    expect(level).toBeLessThanOrEqual(710);
  });
});

describe.skipIf(!present)(
  'charging, where the voltage of the control unit is recorded (14 V and more with the engine running)',
  () => {
    test.each(['carobd/live6.csv', 'carobd/live20.csv'])(
      '%s charges, and its start is too slow to be timed',
      async (path) => {
        const result = (await assessed(path)).results.find(({ rule }) => rule === 'electrical.charging');
        expect(result?.outcome).toBe('clear');
        expect(JSON.stringify(result)).toContain('systemVoltage at >= 10 Hz');
      },
    );

    test.each(['carobd/drive5.csv', 'carobd/idle1.csv'])('%s hardly leaves idle: not shown', async (path) => {
      const result = (await assessed(path)).results.find(({ rule }) => rule === 'electrical.charging');
      expect(result).toMatchObject({
        outcome: 'unproven',
        missing: { conditions: [expect.stringContaining('1500 rpm'), expect.anything()] },
      });
    });
  },
);
