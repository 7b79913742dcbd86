import { describe, expect, it } from 'vitest';
import { buildRecording } from '../../src/recording/build.js';
import { rawTable as table } from './helpers.js';

const rawTable = (columns: Readonly<Record<string, number[]>>) =>
  table(
    Array.from({ length: 400 }, (_, i) => i),
    Object.entries(columns).map(([label, values]) => ({ label, values })),
  );

describe('a column without a unit', () => {
  const rows = 400;
  const wave = (low: number, high: number): number[] =>
    Array.from({ length: rows }, (_, i) => low + (high - low) * (0.5 - 0.5 * Math.cos(i / 60)));

  it('takes the unit of its kin when its own values fit several', () => {
    const hot = wave(70, 170);
    const alone = buildRecording(rawTable({ 'Engine speed': wave(700, 3000), 'Transmission fluid temperature': hot }));
    expect(alone.ok && alone.recording.channels.has('transmissionOilTemperature')).toBe(false);
    for (const [coolant, unit] of [
      [wave(20, 95), 'degC'],
      [wave(68, 203), 'degF'],
    ] as const) {
      const built = buildRecording(
        rawTable({
          'Engine speed': wave(700, 3000),
          'Coolant temperature': [...coolant],
          'Transmission fluid temperature': hot,
        }),
      );
      const channel = built.ok ? built.recording.channels.get('transmissionOilTemperature') : undefined;
      expect(channel).toMatchObject({ sourceUnit: unit, certainty: 'inferred' });
    }
  });

  it('reads small trims by their steps, and never turns half a per cent into fifty', () => {
    const steps = (step: number, most: number): number[] => wave(-most, most).map((x) => Math.round(x / step) * step);
    const built = buildRecording(
      rawTable({
        'Engine speed': wave(700, 3000),
        'Long term fuel trim bank 1': steps(0.1, 0.5),
        'Long term fuel trim bank 2': steps(0.0078125, 0.11),
      }),
    );
    const channel = (id: string) => (built.ok ? built.recording.channels.get(id) : undefined);
    expect(channel('fuelTrimLong.bank1')?.sourceUnit).toBe('%');
    // Fine steps alone would fit both; the kin decides.
    expect(channel('fuelTrimLong.bank2')?.sourceUnit).toBe('%');
  });
});

describe('a speed without a unit', () => {
  const wave = (low: number, high: number): number[] =>
    Array.from({ length: 400 }, (_, i) => low + (high - low) * (0.5 - 0.5 * Math.cos(i / 60)));
  const engine = { 'Engine speed': wave(700, 3000), 'Vehicle speed': wave(0, 70) };

  it('is km/h by default, but not in a log of Fahrenheit or psi, where it may be mph', () => {
    const metric = buildRecording(rawTable({ ...engine, 'Coolant temperature (°C)': wave(20, 90) }));
    expect(metric.ok && metric.recording.channels.get('vehicleSpeed')?.sourceUnit).toBe('km/h');
    const imperial = buildRecording(rawTable({ ...engine, 'Coolant temperature (°F)': wave(68, 200) }));
    expect(imperial.ok && imperial.recording.channels.has('vehicleSpeed')).toBe(false);
    expect(imperial.ok && imperial.recording.problems.some((problem) => problem.code === 'unit-ambiguous')).toBe(true);
    const stated = buildRecording(
      rawTable({ ...engine, 'GPS speed (mph)': wave(0, 70), 'Coolant temperature (°F)': wave(68, 200) }),
    );
    expect(stated.ok && stated.recording.channels.has('gpsSpeed')).toBe(true);
  });
});

describe('columns of one family without a unit', () => {
  const rows = 400;
  const wave = (low: number, high: number, period = 40): number[] =>
    Array.from({ length: rows }, (_, i) => low + (high - low) * (0.5 - 0.5 * Math.cos((2 * Math.PI * i) / period)));
  const fine = (values: number[], step: number): number[] => values.map((x) => Math.round(x / step) * step);
  const units = (columns: Readonly<Record<string, number[]>>, stem: string): (string | undefined)[] => {
    const built = buildRecording(rawTable({ 'Engine speed': wave(700, 3000), ...columns }));
    if (!built.ok) throw new Error(built.fault.message);
    return built.recording.columns.filter(({ label }) => label.startsWith(stem)).map((column) => column.sourceUnit);
  };
  const injectors = (of: (cylinder: number) => number[]): Record<string, number[]> =>
    Object.fromEntries(Array.from({ length: 6 }, (_, k) => [`INJ_CORRECTION${k + 1}`, of(k + 1)]));

  it('are read in one unit: a cylinder near 1 % is no factor beside neighbours in per cent', () => {
    const columns = injectors((c) => (c === 4 ? fine(wave(0.86, 1.18), 0.01) : fine(wave(-2.4, 1.6), 0.01)));
    expect(units(columns, 'INJ')).toEqual(Array(6).fill('%'));
  });

  it('are read in one unit: one that is small enough for a fraction follows the others', () => {
    const columns = injectors((c) => fine(c === 2 ? wave(-0.1, 0.12) : wave(-1.8, 2.2), 0.01));
    expect(units(columns, 'INJ')).toEqual(Array(6).fill('%'));
  });

  it('are left open together where nothing decides', () => {
    const columns = injectors((c) => fine(wave(-0.02 * c, 0.02 * c), 0.001));
    expect(units(columns, 'INJ')).toEqual(Array(6).fill(undefined));
  });

  it('take the unit that one of them states', () => {
    const columns = injectors((c) => fine(wave(-0.02 * c, 0.02 * c), 0.001));
    const { INJ_CORRECTION1: first, ...others } = columns;
    expect(units({ 'INJ_CORRECTION1[%]': first!, ...others }, 'INJ')).toEqual(Array(6).fill('%'));
  });

  it('fuel trims as fractions are read so, all of them', () => {
    const columns = {
      'Short term fuel trim bank 1': fine(wave(-0.05, 0.06), 0.001),
      'Short term fuel trim bank 2': fine(wave(-0.04, 0.05), 0.001),
      'Long term fuel trim bank 1': fine(wave(0.02, 0.12, 380), 0.001),
      'Long term fuel trim bank 2': fine(wave(0.02, 0.03, 380), 0.001),
    };
    const built = buildRecording(rawTable({ 'Engine speed': wave(700, 3000), ...columns }));
    if (!built.ok) throw new Error(built.fault.message);
    expect(built.recording.columns.slice(-4).map(({ sourceUnit }) => sourceUnit)).toEqual(Array(4).fill('fraction'));
    expect(Math.max(...built.recording.channels.get('fuelTrimLong.bank1')!.values)).toBeCloseTo(12, 6);
  });

  it('trims in per cent stay so, a learned one near 1 % and a calm one among them', () => {
    const columns = {
      'Short term fuel trim bank 1': fine(wave(-3, 3), 0.1),
      'Long term fuel trim bank 1': fine(wave(0.9, 1.1, 380), 0.01),
      'Short term fuel trim bank 2': fine(wave(-2.5, 2.8), 0.1),
      'Long term fuel trim bank 2': fine(wave(-0.1, 0.1, 380), 0.01),
    };
    const built = buildRecording(rawTable({ 'Engine speed': wave(700, 3000), ...columns }));
    if (!built.ok) throw new Error(built.fault.message);
    expect(built.recording.columns.slice(-4).map(({ sourceUnit }) => sourceUnit)).toEqual(Array(4).fill('%'));
  });
});
