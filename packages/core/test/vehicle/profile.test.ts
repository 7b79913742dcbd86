import { describe, expect, test } from 'vitest';
import { checkOverrides } from '../../src/engine/catalogue.js';
import { readColumnMap } from '../../src/recording/map-file.js';
import { RULES } from '../../src/rules/index.js';
import { readProfile } from '../../src/vehicle/profile.js';

const FULL = `
schema: telltale/vehicle@1
id: demo-saloon
engine: { displacement: 3.2 L, cylinders: 6, fuel: E10, revLimit: 7000 rpm, ratedTorque: 610 N.m }
transmission: { kind: dual-clutch, fluidPlace: sump, gears: [4.02, 2.41, 1.66, 1.26, 0.99, 0.79], finalDrive: 3.62 }
driveline: { driven: all, tyreFront: 245/40R19, tyreRear: 275/35R19 }
body: { mass: 1760 kg, dragArea: 0.66 m2, rolling: 0.0125 }
limits: { transmission.over-temperature: { repair: { value: 120, unit: degC } } }
claims: { power: 400 kW, launches: 0, distance: 42000 km }
`;

function profileOf(text: string) {
  const read = readProfile(text, 'car.yaml');
  if (!read.ok) throw new Error(read.faults.map((fault) => fault.message).join('\n'));
  return read.value;
}

function faultsOf(text: string): readonly { line: number; message: string }[] {
  const read = readProfile(text, 'car.yaml');
  return read.ok ? [] : read.faults;
}

describe('a vehicle profile', () => {
  test('is read in the units of the vehicle', () => {
    const vehicle = profileOf(FULL);
    expect(vehicle.engine).toEqual({ displacement: 3.2, cylinders: 6, fuel: 'E10', revLimit: 7000, ratedTorque: 610 });
    expect(vehicle.body).toEqual({ mass: 1760, dragArea: 0.66, rolling: 0.0125 });
    expect(vehicle.limits['transmission.over-temperature']?.repair).toEqual({ value: 120, unit: 'degC' });
    expect(checkOverrides(vehicle, RULES)).toEqual([]);
  });

  test('takes other units, and JSON', () => {
    const vehicle = profileOf(
      '{"schema":"telltale/vehicle@1","engine":{"ratedTorque":{"value":450,"unit":"lb-ft"},"displacement":"3200 cc"},"body":{"mass":"3880 lb"}}',
    );
    expect(vehicle.engine.ratedTorque).toBeCloseTo(450 * 1.3558179483314, 9);
    expect(vehicle.engine.displacement).toBeCloseTo(3.2, 12);
    expect(vehicle.body.mass).toBeCloseTo(3880 * 0.45359237, 9);
  });

  test.each([
    ['schema: telltale/vehicle@2', 1, 'schema'],
    ['schema: telltale/vehicle@1\nengin: {}', 2, 'engin'],
    ['schema: telltale/vehicle@1\nengine:\n  cylinders: six', 3, 'engine.cylinders'],
    ['schema: telltale/vehicle@1\nengine:\n  revLimit: 7000', 3, 'expected a quantity'],
    ['schema: telltale/vehicle@1\nengine:\n  revLimit: 7000 kg', 3, 'rpm'],
    ['schema: telltale/vehicle@1\nengine:\n  revLimit: 7000 furlongs', 3, 'rpm'],
    ['schema: telltale/vehicle@1\nengine:\n  revLimit: fast', 3, 'rpm'],
    ['schema: telltale/vehicle@1\nclaims: { power: lots }', 2, 'kW'],
    ['schema: telltale/vehicle@1\nlimits: { engine.knock: { watch: much } }', 2, 'number with a unit'],
    ['schema: telltale/vehicle@1\nbody:\n  mass: 1 kg', 3, '200 to 10000 kg'],
    ['schema: telltale/vehicle@1\ndriveline: { tyreFront: wide }', 2, 'tyre size'],
    ['schema: [', 1, 'not valid YAML'],
    ['just text', 1, 'expected'],
    ['', 1, 'expected'],
  ])('%j is refused with its line', (text, line, part) => {
    const faults = faultsOf(text);
    expect(faults.length).toBeGreaterThan(0);
    expect(faults[0]!.line).toBe(line);
    expect(faults.map((fault) => fault.message).join(' ')).toContain(part);
    expect(faults[0]!.message).toMatch(/^car\.yaml:\d+:\d+: /);
    expect(faults[0]!.message).not.toContain('\n');
  });

  test('cannot reach a prototype', () => {
    const vehicle = profileOf(
      'schema: telltale/vehicle@1\nlimits: { __proto__: { watch: { value: 1, unit: degC } } }\nclaims: { constructor: 1 }',
    );
    expect(({} as Record<string, unknown>).watch).toBeUndefined();
    expect(vehicle.id).toBe('');
  });

  test('that overrides what does not exist is told so, with the nearest name', () => {
    const wrong = profileOf(
      'schema: telltale/vehicle@1\nlimits: { transmission.over-temprature: { repair: 120 degC } }',
    );
    expect(JSON.stringify(checkOverrides(wrong, RULES))).toContain('did you mean transmission.over-temperature');
    const name = profileOf(
      'schema: telltale/vehicle@1\nlimits: { transmission.over-temperature: { repare: 120 degC } }',
    );
    expect(JSON.stringify(checkOverrides(name, RULES))).toContain('did you mean repair');
    const unit = profileOf(
      'schema: telltale/vehicle@1\nlimits: { transmission.over-temperature: { repair: 120 kPa } }',
    );
    expect(JSON.stringify(checkOverrides(unit, RULES))).toContain('degC');
  });
});

describe('a map file', () => {
  test('is read as YAML', () => {
    const read = readColumnMap(
      'schema: telltale/map@1\ndecimal: ","\ncolumns: { Oil T: { channel: engineOilTemperature, unit: degF }, "#7": { channel: null } }',
      'm.yaml',
    );
    expect(read).toEqual({
      ok: true,
      value: {
        schema: 'telltale/map@1',
        decimal: ',',
        columns: { 'Oil T': { channel: 'engineOilTemperature', unit: 'degF' }, '#7': { channel: null } },
      },
    });
  });

  test('is read as CSV', () => {
    const read = readColumnMap(
      'column,channel,unit,scale\nOil T,engineOilTemperature,degF,\n#7,-,,\nBoost,,,0.1\n',
      'm.csv',
    );
    expect(read).toEqual({
      ok: true,
      value: {
        columns: {
          'Oil T': { channel: 'engineOilTemperature', unit: 'degF' },
          '#7': { channel: null },
          Boost: { scale: 0.1 },
        },
      },
    });
  });

  test.each([
    ['schema: telltale/map@1\ncolumns:\n  A: { chanel: x }', 3],
    ['column,channel,scale\nA,x,ten\n', 2],
    ['column,channel,scale\n\n#3,-,\n"two\nlines",-,\nA,,ten\n', 6],
    ['column,channel\n#3,-\nA,-,1\n', 3],
    ['column,what\nA,x\n', 1],
  ])('%j is refused with its line', (text, line) => {
    const read = readColumnMap(text, 'm');
    expect(read.ok).toBe(false);
    if (!read.ok) expect(read.faults[0]!.line).toBe(line);
  });
});
