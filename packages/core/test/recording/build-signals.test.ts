import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type BuildOptions, buildRecording } from '../../src/recording/build.js';
import { PROBLEM_CODES } from '../../src/recording/problem-code.js';
import type { Recording } from '../../src/recording/recording.js';
import { type ColumnSpec, clock, noise, rawTable, sampled } from './helpers.js';

const time = clock(600, 10);
const random = noise(11);
const speedShape = (t: number) => Math.max(0, 60 + 70 * Math.sin(t / 25));
const rpm = sampled(time, (t) => (t < 3 ? 0 : 750 + 25 * speedShape(t) + 15 * random()));
const speed = sampled(time, (t) => (t < 20 ? 0 : Math.round(speedShape(t))));
const coolant = sampled(time, (t) => Math.round(Math.min(92, 18 + t / 5.03)));
const load = sampled(time, (t) => 30 + 20 * Math.sin(t / 4) + 3 * random());

const ENGINE: ColumnSpec = { label: 'Engine speed', unit: 'rpm', values: rpm };
const SPEED: ColumnSpec = { label: 'Vehicle speed', unit: 'km/h', values: speed };
const COOLANT: ColumnSpec = { label: 'Coolant temperature', unit: '°C', values: coolant };
const LOAD: ColumnSpec = { label: 'Calculated engine load', unit: '%', values: load };

function build(specs: readonly ColumnSpec[], options: BuildOptions = {}): Recording {
  const result = buildRecording(rawTable(time, specs), options);
  if (!result.ok) throw new Error(result.fault.message);
  return result.recording;
}

function codes(recording: Recording, channel?: string): string[] {
  return recording.problems.filter((p) => channel === undefined || p.channel === channel).map((p) => p.code);
}

describe('mixture', () => {
  const lambda = sampled(time, (t) => (t % 50 < 4 ? 0.85 : 1 + 0.01 * random()));
  it('in air-fuel ratio is divided by the base that closed loop confirms', () => {
    const light = sampled(time, (t) => (t % 50 < 4 ? 95 : 35));
    const recording = build([
      ENGINE,
      COOLANT,
      { ...LOAD, values: light },
      { label: 'AFR', values: lambda.map((x) => x * 14.1) },
    ]);
    const channel = recording.channels.get('lambda')!;
    expect(channel.values[5000]! * 14.1).toBeCloseTo(lambda[5000]! * 14.1, 9);
    expect(recording.problems.find((p) => p.code === 'afr-base')!.message).toContain('14.1');
  });

  it('of a target takes the base that the measured ratio confirmed', () => {
    const light = sampled(time, (t) => (t % 50 < 4 ? 95 : 35));
    const recording = build([
      ENGINE,
      { ...LOAD, values: light },
      { label: 'AFR', values: lambda.map((x) => x * 14.1) },
      { label: 'AFR target', values: sampled(time, () => 12) },
    ]);
    expect(recording.channels.get('lambdaTarget')!.values[10]).toBeCloseTo(12 / 14.1, 9);
  });

  it('headed lambda but written as air-fuel ratio is read as such, and doubted', () => {
    const recording = build([ENGINE, { label: 'Lambda [lambda]', values: lambda.map((x) => x * 14.7) }]);
    expect(recording.channels.get('lambda')!.values[5000]).toBeCloseTo(lambda[5000]!, 9);
    expect(codes(recording, 'lambda')).toContain('unit-doubtful');
  });

  it('in phi is turned over', () => {
    const recording = build([ENGINE, { label: 'Lambda', unit: 'phi', values: lambda.map((x) => 1 / x) }]);
    expect(recording.channels.get('lambda')!.values[5000]).toBeCloseTo(lambda[5000]!, 9);
  });
});

describe('fuel trims', () => {
  const percent = sampled(time, (t) => Math.round((4 * Math.sin(t / 3)) / 0.78125) * 0.78125);
  it('as factors around 1.00 become percent', () => {
    const recording = build([ENGINE, { label: 'SHRTFT1', values: percent.map((p) => 1 + p / 100) }]);
    const channel = recording.channels.get('fuelTrimShort.bank1')!;
    expect(channel.values[2000]).toBeCloseTo(percent[2000]!, 6);
    expect(codes(recording, 'fuelTrimShort.bank1')).toContain('trim-factor');
  });

  it('in percent stay percent, also when they rest near 1', () => {
    const recording = build([
      ENGINE,
      { label: 'SHRTFT1[%]', values: percent },
      { label: 'LONGFT1[%]', values: sampled(time, (t) => (t < 300 ? 0.78 : 1.56)) },
    ]);
    expect(recording.channels.get('fuelTrimShort.bank1')!.values[2000]).toBe(percent[2000]);
    expect(recording.channels.get('fuelTrimLong.bank1')!.values[2000]).toBe(0.78);
    expect(recording.problems).toEqual([]);
  });
});

describe('pressure', () => {
  const absolute = sampled(time, (t) => (t < 3 ? 98 : 40 + 60 * Math.max(0, Math.sin(t / 9)) + random()));
  it('relative to the atmosphere becomes absolute by the barometer', () => {
    const recording = build([
      ENGINE,
      { label: 'Barometric pressure', unit: 'kPa', values: sampled(time, () => 98) },
      { label: 'Boost pressure', unit: 'psi', values: absolute.map((p) => (p - 98) / 6.894757293168) },
    ]);
    const channel = recording.channels.get('boostPressure') ?? recording.channels.get('manifoldPressure');
    expect(channel!.values[3000]).toBeCloseTo(absolute[3000]!, 6);
    expect(codes(recording, channel!.id)).toEqual(['pressure-reference', 'gauge-base']);
  });

  it('of an unnamed reference is absolute when it reads so, and by definition when it is manifold pressure', () => {
    const recording = build([ENGINE, { label: 'Intake manifold pressure', unit: 'kPa', values: absolute }]);
    expect(recording.channels.get('manifoldPressure')!.values[3000]).toBe(absolute[3000]);
    expect(codes(recording, 'manifoldPressure')).toEqual([]);
  });

  it('of a boost column that nothing settles is not used', () => {
    const recording = build([
      { ...ENGINE, values: sampled(time, (t) => 3000 + 500 * Math.sin(t)) },
      { label: 'Boost pressure', unit: 'kPa', values: sampled(time, (t) => 50 + 20 * Math.sin(t)) },
    ]);
    expect(recording.channels.has('boostPressure')).toBe(false);
    expect(codes(recording)).toContain('pressure-ambiguous');
  });

  it('flat at the end of its format is marked, not removed', () => {
    const clipped = sampled(time, (t) => Math.round(Math.min(255, Math.max(30, 160 + 140 * Math.sin(t / 7)))));
    const recording = build([ENGINE, { label: 'MAP', unit: 'kPa', values: clipped }]);
    const { quality } = recording.channels.get('manifoldPressure')!;
    expect(quality.saturated.length).toBeGreaterThan(5);
    expect(quality.samples).toBe(time.length);
    expect(codes(recording, 'manifoldPressure')).toEqual(['saturated']);
  });
});

describe('states', () => {
  it('are read from texts, and reverse from every coding', () => {
    const texts = Array.from(time, (t) => (t < 10 ? 'P' : t < 20 ? 'R' : t < 30 ? 'N' : '3'));
    const recording = build([ENGINE, { label: 'Gear', values: texts }]);
    const gear = recording.channels.get('gear')!.values;
    expect([gear[150], gear[250], gear[350]]).toEqual([-1, 0, 3]);
    for (const code of [-1, 14, 15]) {
      const numeric = build([ENGINE, { label: 'Gear', values: sampled(time, (t) => (t < 10 ? code : 2)) }]);
      expect(numeric.channels.get('gear')!.values[5]).toBe(-1);
    }
  });

  it.each([1, 100, 255])('that are switches logged as 0 and %i become 0 and 1', (on) => {
    const values = sampled(time, (t) => (t % 10 < 2 ? on : 0));
    const recording = build([ENGINE, { label: 'Brake switch', values }]);
    const brake = recording.channels.get('brakeSwitch')!;
    expect(brake.values[5]).toBe(1);
    expect(brake.quality.removed.sentinel).toBe(0);
  });

  it('that say reverse at driving speed are set aside', () => {
    const recording = build([ENGINE, SPEED, { label: 'Gear', values: sampled(time, (t) => (t % 40 < 1 ? 15 : 3)) }]);
    const gear = recording.channels.get('gear')!;
    for (let i = 0; i < time.length; i++) {
      if (speed[i]! > 40 && time[i]! % 40 < 1) expect(gear.values[i]).toBeNaN();
    }
    expect(codes(recording, 'gear')).toEqual(['reverse-doubtful']);
    expect(gear.values[5]).toBe(-1);
  });

  it('of a converter clutch that only know 0 and 1 are a switch, with a doubt and a way to say otherwise', () => {
    const switched = { label: 'Converter clutch state', values: sampled(time, (t) => (t % 10 < 5 ? 0 : 1)) };
    const recording = build([ENGINE, switched]);
    const state = recording.channels.get('converterClutchState')!;
    expect([...new Set(state.values)]).toEqual([0, 2]);
    expect(state.certainty).toBe('inferred');
    expect(codes(recording, 'converterClutchState')).toEqual(['state-inferred']);
    for (const values of [
      sampled(time, (t) => (t % 10 < 5 ? 0 : t % 10 < 8 ? 1 : 2)),
      sampled(time, () => 1),
      Array.from(time, (t) => (t % 10 < 5 ? 'open' : 'slipping')),
    ]) {
      const told = build([ENGINE, { ...switched, values }]);
      expect(told.channels.get('converterClutchState')!.values).toContain(1);
      expect(codes(told, 'converterClutchState')).toEqual([]);
    }
  });

  it('with unknown texts are counted', () => {
    const recording = build([ENGINE, { label: 'Gear', values: Array.from(time, (t) => (t < 10 ? 'qzx' : '3')) }]);
    expect(recording.problems.find((p) => p.code === 'state-unknown')!.count).toBe(100);
  });
});

describe('every input', () => {
  const cell = fc.oneof(
    fc.double(),
    fc.constantFrom(
      Number.NaN,
      Number.POSITIVE_INFINITY,
      Number.NEGATIVE_INFINITY,
      0,
      -0,
      255,
      65535,
      1e10,
      -40,
      1e308,
    ),
  );
  const label = fc.constantFrom(
    'Engine speed [rpm]',
    'Vehicle speed (km/h)',
    'Coolant temperature',
    'Boost pressure',
    'MAP [kPa]',
    'AFR',
    'KR1[deg]',
    'SHRTFT1[%]',
    'Gear',
    'Lambda',
    'Transmission oil temperature [F]',
    'nonsense',
  );

  it('is read without throwing, with a known code for every problem and a report for every column', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(label, fc.array(cell, { minLength: 30, maxLength: 30 })), { minLength: 1, maxLength: 8 }),
        (columns) => {
          const table = rawTable(
            clock(29, 1),
            columns.map(([name, values]) => ({ label: name, values })),
          );
          const result = buildRecording(table);
          if (!result.ok) {
            expect(result.columns).toHaveLength(columns.length + 1);
            return;
          }
          expect(result.recording.columns).toHaveLength(columns.length + 1);
          for (const problem of result.recording.problems) expect(Object.keys(PROBLEM_CODES)).toContain(problem.code);
          for (const channel of result.recording.channels.values()) {
            for (const x of channel.values) expect(Number.isNaN(x) || Number.isFinite(x)).toBe(true);
          }
        },
      ),
      { numRuns: 150 },
    );
  });

  it('survives an empty table and a single row', () => {
    expect(buildRecording(rawTable([], [{ label: 'Engine speed [rpm]', values: [] }])).ok).toBe(false);
    expect(buildRecording(rawTable([0], [{ label: 'Engine speed [rpm]', values: [700] }])).ok).toBe(true);
  });
});

describe('a coolant that never moves', () => {
  const longer = clock(900, 5);
  const flat: ColumnSpec = { label: 'Coolant temperature', unit: '°C', values: sampled(longer, () => 90) };
  const turning: ColumnSpec = {
    label: 'Engine speed',
    unit: 'rpm',
    values: sampled(longer, (t) => 2000 + 900 * Math.sin(t / 3)),
  };
  const fluid = (from: number): ColumnSpec => ({
    label: 'Transmission fluid temperature',
    unit: '°C',
    values: sampled(longer, (t) => Math.round(from + t / 20)),
  });
  const samples = (from: number): number => {
    const result = buildRecording(rawTable(longer, [turning, flat, fluid(from)]));
    if (!result.ok) throw new Error(result.fault.message);
    return result.recording.channels.get('coolantTemperature')?.quality.samples ?? 0;
  };

  it('is believed where a thermostat holds it while the fluid of a warm gearbox gets hotter, not after a cold start', () => {
    expect(samples(85)).toBe(longer.length);
    expect(samples(20)).toBeLessThan(2);
  });
});
