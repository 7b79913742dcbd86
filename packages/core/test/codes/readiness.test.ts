import { describe, expect, it } from 'vitest';
import { decodeReadiness, openMonitors, spokenMonitor } from '../../src/codes/readiness.js';
import { hasValidation, sharedText, WHERE } from '../math/published.js';

/** Names of the published vectors beside ours. */
const NAMES: Readonly<Record<string, string>> = {
  misfire: 'misfire',
  fuelSystem: 'fuelSystem',
  comprehensiveComponents: 'components',
  catalyst: 'catalyst',
  heatedCatalyst: 'heatedCatalyst',
  evap: 'evaporative',
  secondaryAir: 'secondaryAir',
  'acRefrigerant(older)/GPF(newer)': 'particulateFilter',
  oxygenSensor: 'oxygenSensor',
  oxygenSensorHeater: 'oxygenSensorHeater',
  egrOrVvt: 'exhaustRecirculation',
};

interface Vector {
  readonly hex: string;
  readonly expected: {
    readonly mil: boolean;
    readonly dtcCount: number;
    readonly ignition: string;
    readonly monitors: Readonly<Record<string, { readonly supported: boolean; readonly complete: boolean }>>;
    readonly notReadyCount: number;
  };
}

describe.skipIf(!hasValidation)(`readiness of validation/readiness-pid01.json${WHERE}`, () => {
  const vectors: Vector[] = hasValidation ? JSON.parse(sharedText('validation/readiness-pid01.json')).vectors : [];

  it.each(vectors.filter(({ expected }) => expected.ignition === 'spark'))('$hex', ({ hex, expected }) => {
    const ours = decodeReadiness(hex)!;
    expect(ours.lamp).toBe(expected.mil);
    expect(ours.codeCount).toBe(expected.dtcCount);
    expect(openMonitors(ours)).toHaveLength(expected.notReadyCount);
    for (const [name, state] of Object.entries(expected.monitors)) {
      expect(
        ours.monitors.find(({ id }) => id === NAMES[name]),
        name,
      ).toMatchObject(state);
    }
  });
});

describe('readiness as written', () => {
  it.each(['81076504', '81 07 65 04', '0x81076504', '41 01 81 07 65 04'])('%s', (text) =>
    expect(decodeReadiness(text)).toEqual(decodeReadiness('81076504')),
  );
  it.each(['', '8107', '810765', 'complete', '00080000'])('%j is none (of a petrol engine)', (text) =>
    expect(decodeReadiness(text)).toBeUndefined(),
  );
  it.each([
    ['Catalyst monitor', 'not complete', 'catalyst', true, false],
    ['Heated catalyst', 'Not supported', 'heatedCatalyst', false, false],
    ['EVAP', 'INCOMPLETE', 'evaporative', true, false],
    ['O2 sensor heater', 'Ready', 'oxygenSensorHeater', true, true],
    ['Oxygen sensor monitor', 'completed', 'oxygenSensor', true, true],
    ['Misfire', 'Complete', 'misfire', true, true],
  ])('%s: %s', (name, value, id, supported, complete) =>
    expect(spokenMonitor(name, value)).toEqual({ id, supported, complete }),
  );
  it('takes no number and no other name for a monitor', () => {
    expect(spokenMonitor('Misfire count cylinder 1', '3')).toBeUndefined();
    expect(spokenMonitor('Launch count', 'complete')).toBeUndefined();
  });
});
