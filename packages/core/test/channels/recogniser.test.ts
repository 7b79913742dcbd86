import { existsSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { CHANNELS, findChannel, recogniseColumn } from '../../src/channels/index.js';
import { RECOGNISED, REFUSED } from './recognition-table.js';

const SHARED = new URL('../../../../../shared/', import.meta.url);
const absent = !existsSync(SHARED);
const text = (path: string): string => readFileSync(new URL(path, SHARED), 'utf8');
const table = (path: string): Record<string, string>[] =>
  Papa.parse<Record<string, string>>(text(path), { header: true, skipEmptyLines: true }).data;

/** Any UTF-16 units, lone surrogates and controls too. */
const anyText = (maxLength: number): fc.Arbitrary<string> =>
  fc
    .array(fc.oneof(fc.integer({ min: 0, max: 0xffff }), fc.integer({ min: 32, max: 126 })), { maxLength })
    .map((codes) => String.fromCharCode(...codes));

describe('recogniseColumn', () => {
  it.each(Object.entries(RECOGNISED))('%s', (channel, list) => {
    for (const entry of list.split('|')) {
      const at = entry.lastIndexOf('@');
      const label = at < 0 ? entry : entry.slice(0, at);
      const found = recogniseColumn({ label });
      expect(found.channel, `${label}: ${found.reason}`).toBe(channel);
      if (at >= 0) expect(found.unit, label).toBe(entry.slice(at + 1));
      expect(findChannel(channel)?.definition.id).toBe(found.base);
    }
  });

  it.each(REFUSED.map((label) => [label]))("leaves '%s' alone and says why", (label) => {
    const found = recogniseColumn({ label });
    expect(found.channel).toBeUndefined();
    expect(found.certainty).toBeUndefined();
    expect(found.reason.length).toBeGreaterThan(10);
  });

  it('keeps near neighbours apart', () => {
    const near: Readonly<Record<string, string>> = {
      'Fuel temperature': 'fuelTemperature',
      'Clutch temperature': 'clutchTemperature',
      'Clutch oil temperature': 'clutchOilTemperature',
      'Coolant pump duty': 'coolantPumpDuty',
      'Coolant level': 'coolantLevel',
      'Engine oil level': 'engineOilLevel',
      'Oil pressure switch': 'oilPressureSwitch',
      'Throttle pedal position': 'pedalPosition',
      'Brake pedal position': 'brakePedalPosition',
      'Clutch pedal position': 'clutchPedalPosition',
      'Transmission input torque': 'transmissionInputTorque',
      'Lambda sensor voltage': 'oxygenSensorVoltage',
      'Knock sensor level': 'knockLevel',
      'Gear ratio': 'gearRatio',
      'Preselected gear': 'gearPreselected',
      'Modelled exhaust gas temperature': 'exhaustGasTemperatureModelled',
      'Wheel torque': 'wheelTorque',
      'Battery current': 'batteryCurrent',
      'Battery temperature': 'batteryTemperature',
      'Intercooler coolant temperature': 'chargeCoolantTemperature',
    };
    for (const [label, base] of Object.entries(near)) expect(recogniseColumn({ label }).base, label).toBe(base);
  });

  it('reads unit and source rows', () => {
    expect(recogniseColumn({ label: 'Engine Coolant temperature', unitCell: '[K]', sourceCell: 'ECU' })).toMatchObject({
      channel: 'coolantTemperature',
      unit: 'K',
    });
    expect(recogniseColumn({ label: 'Vehicle speed', unitCell: '[km/h]', sourceCell: 'GPS' }).channel).toBe('gpsSpeed');
    expect(recogniseColumn({ label: 'Vehicle speed', unitCell: '[km/h]', sourceCell: 'ECU' }).channel).toBe(
      'vehicleSpeed',
    );
    expect(recogniseColumn({ label: 'Wheel rotational speed', unitCell: '[rad/s]' })).toMatchObject({
      channel: 'wheelRotation',
      unit: 'rad/s',
    });
    expect(recogniseColumn({ label: 'Coolant temperature', unitCell: 'blub' }).channel).toBeUndefined();
    expect(recogniseColumn({ label: 'Coolant temperature', unitCell: '-' }).unit).toBeUndefined();
  });

  it('reads gauge, absolute and place', () => {
    expect(recogniseColumn({ label: 'MAP (psig)' })).toMatchObject({ unit: 'psi', gauge: true, place: 'manifold' });
    expect(recogniseColumn({ label: 'Manifold absolute pressure (bar)' }).gauge).toBe(false);
    expect(recogniseColumn({ label: 'Boost (psi)' })).not.toHaveProperty('gauge');
    expect(recogniseColumn({ label: 'Boost (psi)' })).not.toHaveProperty('place');
    expect(recogniseColumn({ label: 'Pressure upstream of throttle valve' }).place).toBe('before-throttle');
    expect(recogniseColumn({ label: 'EGT before turbine' }).place).toBe('before-turbine');
    expect(recogniseColumn({ label: 'EGT post turbo' }).place).toBe('after-turbine');
    expect(recogniseColumn({ label: 'EGT' })).not.toHaveProperty('place');
    expect(recogniseColumn({ label: 'TFT' }).place).toBe('sump');
    expect(recogniseColumn({ label: 'Trans fluid temp, cooler inlet' }).place).toBe('cooler-inlet');
    expect(recogniseColumn({ label: 'Clutch fluid temp outlet [°C]' })).toMatchObject({
      base: 'clutchOilTemperature',
    });
    expect(recogniseColumn({ label: 'Transmission oil temperature clutch outlet' })).toMatchObject({
      base: 'transmissionOilTemperature',
      place: 'clutch-outlet',
    });
    expect(recogniseColumn({ label: 'Intake air temp before turbo' }).place).toBe('before-compressor');
  });

  it('says likely and why where the wording is loose, mended or implied', () => {
    expect(recogniseColumn({ label: 'Oil temp' }).certainty).toBe('likely');
    expect(recogniseColumn({ label: 'Speed' }).certainty).toBe('likely');
    expect(recogniseColumn({ label: 'Coolant temperature' }).certainty).toBe('certain');
    const mended = recogniseColumn({ label: 'Coolant temperture' });
    expect(mended).toMatchObject({ channel: 'coolantTemperature', certainty: 'likely' });
    expect(mended.reason).toContain("'temperture'");
    expect(recogniseColumn({ label: 'LTFT' }).reason).toContain('no bank is named, bank1 is taken');
    expect(recogniseColumn({ label: 'Coolant temp [deg]' }).reason).toContain('does not say which degree');
    expect(recogniseColumn({ label: 'Coolant temp [deg]' }).unit).toBeUndefined();
  });

  it('understands every wording of the catalogue', () => {
    for (const definition of CHANNELS) {
      for (const wording of [...definition.aliases, ...definition.weakAliases]) {
        if (definition.id === 'oxygenSensorTrim' && wording === 'short fuel trim') continue; // only with SHRTFTxy's digits
        // A wording that two channels share (oil: temperature or pressure) is settled by its unit.
        const shared = CHANNELS.filter((each) => [...each.aliases, ...each.weakAliases].includes(wording)).length > 1;
        const unit = shared ? { unitCell: definition.unit } : {};
        for (const label of [wording.replaceAll(/\([^)]*\)/g, ' '), wording.replaceAll(/[()]/g, ' ')]) {
          expect(recogniseColumn({ label, ...unit }).base, `${definition.id}: ${label}`).toBe(definition.id);
          const upper = label.trim().replaceAll(/\s+/g, '_').toUpperCase();
          expect(recogniseColumn({ label: upper, ...unit }).base, label).toBe(definition.id);
        }
      }
      expect(recogniseColumn({ label: `${definition.id} [${definition.unit}]` }).base, definition.id).toBe(
        definition.id,
      );
    }
  });

  it('never throws and is quick on hostile text', () => {
    fc.assert(
      fc.property(anyText(300), anyText(40), (label, unitCell) => {
        const found = recogniseColumn({ label, unitCell, sourceCell: unitCell });
        return found.reason.length > 0 && found.reason.length < 600;
      }),
      { numRuns: 500 },
    );
    for (const seed of ['(', 'a', ' ', 'aA', '1', '[°C]', 'temp', ',', '_', "'s"]) {
      recogniseColumn({ label: seed.repeat(1_000_000 / seed.length), unitCell: seed.repeat(100_000) });
    }
    const words = fc.constantFrom(
      'knock',
      'retard',
      'cyl',
      '3',
      'bank',
      'front',
      '(',
      ')',
      '°C',
      'target',
      'oil',
      'temp',
      'S',
      'rpm',
      '_',
      ' ',
    );
    fc.assert(
      fc.property(fc.array(words, { maxLength: 30 }), (parts) => void recogniseColumn({ label: parts.join(' ') })),
      { numRuns: 500 },
    );
  });
});

// Headers of open recordings: data/carobd, data/jrc-rde-sample (SOURCE.md beside each).
describe.skipIf(absent)('real headers', () => {
  it('reads every column of the single-car log', () => {
    const header = text('data/carobd/drive5.csv').split(/\r?\n/)[0]!.split(',');
    expect(header).toHaveLength(27);
    for (const label of header) expect(recogniseColumn({ label }).channel, label).toBeDefined();
  });

  it('reads the three-row head of the road trip', () => {
    const lines = text('data/jrc-rde-sample/Sample_Data_Exchange_File.csv').split(/\r?\n/);
    const [names, sources, units] = [197, 198, 199].map((i) => lines[i]!.split(','));
    const found = names!.map((label, i) => recogniseColumn({ label, unitCell: units![i]!, sourceCell: sources![i]! }));
    const channels = found.flatMap((column) => column.channel ?? []);
    expect(channels.filter((id) => id === 'vehicleSpeed')).toHaveLength(2);
    for (const id of [
      'time',
      'gpsSpeed',
      'barometricPressure',
      'ambientTemperature',
      'engineSpeed',
      'engineTorque',
      'coolantTemperature',
      'engineOilTemperature',
      'airMassFlow',
      'fuelMassFlow',
      'wheelRotation',
      'axleTorque',
      'pedalPosition',
      'engineTorquePercent',
      'frictionTorquePercent',
    ]) {
      expect(channels, id).toContain(id);
    }
    names!.forEach((label, i) => {
      if (/concentration|CO2 mass|NOx mass|Latitude|Longitude|EFM$/.test(label))
        expect(found[i]!.channel, label).toBeUndefined();
    });
  });
});

// SAE J1979 (public secondary copy in j1979-pids.csv): labels, resolution and range of service 01.
describe.skipIf(absent)('SAE J1979', () => {
  const EXPECTED: Readonly<Record<string, string>> = {
    LOAD_PCT: 'engineLoad',
    ECT: 'coolantTemperature',
    SHRTFT1: 'fuelTrimShort.bank1',
    LONGFT1: 'fuelTrimLong.bank1',
    SHRTFT2: 'fuelTrimShort.bank2',
    LONGFT2: 'fuelTrimLong.bank2',
    MAP: 'manifoldPressure',
    RPM: 'engineSpeed',
    VSS: 'vehicleSpeed',
    SPARKADV: 'ignitionAdvance',
    IAT: 'intakeAirTemperature',
    MAF: 'airMassFlow',
    TP: 'throttlePosition',
    RUNTM: 'engineRunTime',
    MIL_DIST: 'distanceWithLamp',
    FRP: 'fuelRailPressure',
    EGR_PCT: 'egrTarget',
    EGR_ERR: 'egrError',
    EVAP_PCT: 'purgeDuty',
    FLI: 'fuelLevel',
    WARM_UPS: 'warmUpsSinceClear',
    CLR_DIST: 'distanceSinceClear',
    EVAP_VP: 'fuelTankPressure',
    BARO: 'barometricPressure',
    CATEMP11: 'catalystTemperature.bank1Sensor1',
    CATEMP21: 'catalystTemperature.bank2Sensor1',
    CATEMP12: 'catalystTemperature.bank1Sensor2',
    CATEMP22: 'catalystTemperature.bank2Sensor2',
    VPWR: 'systemVoltage',
    LOAD_ABS: 'engineLoadAbsolute',
    EQ_RAT: 'lambdaTarget',
    TP_R: 'throttlePositionRelative',
    AAT: 'ambientTemperature',
    TP_B: 'throttlePosition.sensor2',
    APP_D: 'pedalPosition',
    APP_E: 'pedalPosition.sensor2',
    TAC_PCT: 'throttleTarget',
    MIL_TIME: 'timeWithLamp',
    CLR_TIME: 'timeSinceClear',
    FUEL_TYP: 'fuelType',
    ALCH_PCT: 'ethanolContent',
    APP_R: 'pedalPositionRelative',
    EOT: 'engineOilTemperature',
    FUEL_TIMING: 'injectionTiming',
    FUEL_RATE: 'fuelRate',
    TQ_DD: 'engineTorqueDemandPercent',
    TQ_ACT: 'engineTorquePercent',
    TQ_REF: 'engineTorqueReference',
    ODO: 'odometer',
  };

  it('reads every label', () => {
    const seen = new Set<string>();
    for (const { label } of table('validation/j1979-pids.csv')) {
      const expected = EXPECTED[label!];
      if (expected === undefined) continue;
      seen.add(label!);
      expect(recogniseColumn({ label: label! }).channel, label).toBe(expected);
    }
    expect([...seen].sort()).toEqual(Object.keys(EXPECTED).sort());
  });

  it('reads most names in words', () => {
    let read = 0;
    const all = table('validation/j1979-pids.csv').filter((row) => !row.name!.includes(';'));
    for (const row of all) if (recogniseColumn({ label: row.name! }).channel !== undefined) read++;
    expect(read / all.length).toBeGreaterThan(0.8);
  });

  it('has the step of the encoding and covers or lies within its range', () => {
    let checked = 0;
    for (const row of table('validation/j1979-pids.csv')) {
      const definition = CHANNELS.find((channel) => channel.pid === row.pid_hex);
      if (definition?.resolution === undefined || row.formula!.includes(';') || row.formula!.startsWith('enum'))
        continue;
      const bytes = Number(row.bytes);
      const steps = 256 ** bytes - 1;
      const scale = row.unit === 'Pa' ? 0.001 : 1; // Pa in the standard, kPa here
      const step = ((Number(row.max) - Number(row.min)) / steps) * scale;
      expect(definition.resolution / step, row.pid_hex).toBeCloseTo(1, 4);
      const overlap =
        Math.min(definition.range[1], Number(row.max) * scale) - Math.max(definition.range[0], Number(row.min) * scale);
      expect(overlap, row.pid_hex).toBeGreaterThan(0);
      checked++;
    }
    expect(checked).toBeGreaterThan(25);
  });

  it('takes the ends of the A-40 temperatures for sentinels', () => {
    for (const row of table('validation/j1979-pids.csv').filter((r) => r.formula === 'A-40')) {
      const definition = CHANNELS.find((channel) => channel.pid === row.pid_hex)!;
      const values = definition.sentinels.filter((s) => s.unit === 'degC').map((s) => s.value);
      expect(values).toEqual(expect.arrayContaining([Number(row.min), Number(row.max)]));
    }
  });
});

// SAE J1930 / ISO 15031-2 abbreviations (abbreviations-j1930.csv) that name one quantity.
describe.skipIf(absent)('SAE J1930', () => {
  it('reads abbreviation and meaning alike', () => {
    const quantities = [
      'AAT',
      'APP',
      'BARO',
      'ECT',
      'EOP',
      'EOT',
      'FRP',
      'IAT',
      'KS',
      'MAF',
      'MAP',
      'MIL',
      'OSS',
      'RPM',
      'TFT',
      'TFP',
      'TP',
      'TR',
      'TSS',
      'EGT',
      'ECL',
      'PSP',
      'EFT',
      'EBP',
      'LOAD',
    ];
    const known = new Map(table('validation/abbreviations-j1930.csv').map((row) => [row.abbr!, row.meaning!]));
    for (const abbreviation of quantities) {
      const meaning = known.get(abbreviation)!.replace(/\(J1930.*|\(revolutions.*/, '');
      const short = recogniseColumn({ label: abbreviation });
      expect(short.base, abbreviation).toBeDefined();
      expect(recogniseColumn({ label: meaning }).base, meaning).toBe(short.base);
    }
  });
});
