import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Ajv2020 } from 'ajv/dist/2020.js';
import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { jsonSchemas } from '../../src/docs/schemas.js';
import { explainColumns } from '../../src/engine/load.js';
import { readColumnMap } from '../../src/recording/map-file.js';

const home = fileURLToPath(new URL('../../../../test-data/', import.meta.url));
const read = (file: string): string => readFileSync(home + file, 'utf8');
const schemas = jsonSchemas();
const files = readdirSync(home, { recursive: true, encoding: 'utf8' }).map((file) => file.replaceAll('\\', '/'));

/** Each kind of side file, and which files of test-data are examples of it. */
const KINDS = [
  ['vehicle.json', /vehicle\.yaml$/],
  ['map.json', /map\.yaml$/],
  ['sheet.json', /sheet\.yaml$/],
  ['prices.json', /prices\.yaml$/],
  ['targets.json', /targets\.yaml$/],
  ['limits.json', /limits\.yaml$/],
  ['stored-values-row.json', /stored(-values)?\.csv$/],
  ['code-list-row.json', /codes\.csv$/],
] as const;

describe.each(KINDS)('%s', (name, pattern) => {
  // A code list may be plain text as well: only tables have rows.
  const examples = files.filter((file) => pattern.test(file) && !/^(Trouble codes|All control units)/.test(read(file)));
  const check = new Ajv2020({ strict: true }).compile(schemas[name]!);

  it('has an example, and every one of them fits', () => {
    expect(examples).not.toEqual([]);
    for (const file of examples) {
      const rows = file.endsWith('.csv')
        ? Papa.parse<object>(read(file), { header: true, skipEmptyLines: true }).data
        : [parse(read(file)) as object];
      expect(rows.length, file).toBeGreaterThan(0);
      for (const row of rows) expect(check(row), `${file}: ${JSON.stringify(check.errors)}`).toBe(true);
    }
  });

  it('refuses what is none', () => {
    expect(check({})).toBe(false);
    expect(check([])).toBe(false);
  });
});

it('the map file reads the demo recording, and does what it says', async () => {
  const map = readColumnMap(read('demo.map.yaml'), 'demo.map.yaml');
  if (!map.ok) throw new Error(map.faults.map(({ message }) => message).join('; '));
  const source = new Uint8Array(readFileSync(`${home}demo.csv`));
  const report = await explainColumns({ name: 'demo.csv', source }, { map: map.value });
  expect(JSON.stringify(report)).not.toContain('map-unmatched');
  const of = (label: string) => report.columns.find((column) => column.label === label);
  expect(of('Steering wheel angle (°)')).not.toHaveProperty('channel');
  expect(of('Transmission fluid temperature (°C)')).toMatchObject({
    channel: 'transmissionOilTemperature',
    certainty: 'user',
  });
});
