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
