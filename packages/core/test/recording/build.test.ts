import { describe, expect, it } from 'vitest';
import { type BuildOptions, buildRecording } from '../../src/recording/build.js';
import type { Recording } from '../../src/recording/recording.js';
import { type ColumnSpec, clock, held, noise, rawTable, sampled } from './helpers.js';

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

function report(recording: Recording, label: string) {
  return recording.columns.find((c) => c.label === label)!;
}

describe('columns', () => {
  it('become channels in catalogue units with a report for every column', () => {
    const fahrenheit = coolant.map((c) => c * 1.8 + 32);
    const recording = build([
      ENGINE,
      SPEED,
      { label: 'Engine coolant temperature', unit: '°F', values: fahrenheit },
      { label: 'Zorg factor', values: load },
      { label: 'Throttle position', unit: '%', values: new Array(time.length).fill(null) },
    ]);
    expect([...recording.channels.keys()].sort()).toEqual(['coolantTemperature', 'engineSpeed', 'vehicleSpeed']);
    const channel = recording.channels.get('coolantTemperature')!;
    expect(channel.unit).toBe('degC');
    expect(channel.values[3000]).toBeCloseTo(coolant[3000]!, 9);
    expect(recording.columns).toHaveLength(6);
    expect(recording.columns.map((c) => c.index)).toEqual([0, 1, 2, 3, 4, 5]);
    for (const column of recording.columns) expect(column.reason.length).toBeGreaterThan(5);
    expect(recording.unrecognised).toEqual(['Zorg factor']);
    expect(report(recording, 'Throttle position').reason).toContain('empty');
    expect(recording.problems).toEqual([
      { code: 'empty-column', count: 1, message: 'Columns without a single value: "Throttle position"' },
    ]);
    expect(recording.duration).toBe(600);
  });

  it('give a fault when not one is recognised', () => {
    const result = buildRecording(rawTable(time, [{ label: 'Zorg factor', values: load }]));
    expect(result.ok).toBe(false);
    if (!result.ok) expect(result.fault).toMatchObject({ code: 'no-channel', line: 1 });
  });

  it('never change the table they are read from', () => {
    const values = coolant.slice();
    values[100] = 1e10;
    const table = rawTable(time, [{ ...COOLANT, values }]);
    buildRecording(table);
    expect(table.columns[1]!.values[100]).toBe(1e10);
  });
});

describe('map file', () => {
  it('overrides channel, unit, scale, offset, place, and leaves out', () => {
    const recording = build(
      [ENGINE, { label: 'T7', values: sampled(time, () => 90).map((x) => (x - 50) * 10) }, SPEED, COOLANT],
      {
        map: {
          columns: {
            t7: { channel: 'transmissionOilTemperature', unit: 'degC', scale: 0.1, offset: 50, place: 'clutch-outlet' },
            '#4': { channel: null },
          },
        },
      },
    );
    const channel = recording.channels.get('transmissionOilTemperature')!;
    expect(channel.values[10]).toBeCloseTo(90, 9);
    expect(channel).toMatchObject({ certainty: 'user', place: 'clutch-outlet' });
  });

  it('leaves a column out on null', () => {
    const recording = build([ENGINE, SPEED], { map: { columns: { 'Vehicle speed': { channel: null } } } });
    expect(recording.channels.has('vehicleSpeed')).toBe(false);
    expect(report(recording, 'Vehicle speed').reason).toContain('map file');
  });

  it('reports entries for unknown columns, channels and units', () => {
    const recording = build([ENGINE, SPEED, COOLANT], {
      map: {
        columns: {
          'Engine sped': {},
          'Vehicle speed': { channel: 'vehicleSped' },
          'Coolant temperature': { unit: 'kPa' },
        },
      },
    });
    const text = recording.problems.map((p) => `${p.code} ${p.message}`).join('\n');
    expect(text).toMatch(/map-unmatched .*did you mean "Engine speed"/);
    expect(text).toMatch(/channel-unknown .*did you mean "vehicleSpeed"/);
    expect(text).toMatch(/unit-unknown .*kPa/);
    expect(recording.channels.has('coolantTemperature')).toBe(false);
  });
});

describe('units', () => {
  it('are inferred and reported when the column names none', () => {
    const recording = build([
      ENGINE,
      SPEED,
      { label: 'Coolant temperature', values: coolant.map((c) => c * 1.8 + 32) },
    ]);
    const channel = recording.channels.get('coolantTemperature');
    expect(channel?.certainty).toBe('inferred');
    expect(channel?.sourceUnit).toBe('degF');
    expect(codes(recording, 'coolantTemperature')).toContain('unit-inferred');
  });

  it('contradicted by the values are corrected only when one other unit fits', () => {
    const oil = sampled(time, (t) => Math.round((70 + Math.min(40, t / 5)) * 1.8 + 32));
    const recording = build([ENGINE, SPEED, { label: 'Engine oil temperature', unit: '°C', values: oil }]);
    const channel = recording.channels.get('engineOilTemperature');
    expect(channel?.certainty).toBe('inferred');
    expect(channel!.values[5000]).toBeCloseTo(110, 0);
    expect(codes(recording, 'engineOilTemperature')).toContain('unit-doubtful');
    expect(report(recording, 'Engine oil temperature').doubts.join()).toContain('unit: degF');
  });

  it('of a coolant headed degF that would never get warm are not used, a cold drive is', () => {
    const long = clock(900, 1);
    const engine: ColumnSpec = { ...ENGINE, values: sampled(long, (t) => 2000 + 300 * Math.sin(t) + 15 * random()) };
    const read = (top: number) =>
      buildRecording(
        rawTable(long, [
          engine,
          { label: 'ECT[F]', values: sampled(long, (t) => Math.round(Math.min(top, 20 + t / 5))) },
        ]),
      );
    const contradicted = read(92);
    const cold = read(60);
    if (!contradicted.ok || !cold.ok) throw new Error('unreadable');
    expect(contradicted.recording.channels.has('coolantTemperature')).toBe(false);
    expect(codes(contradicted.recording, 'coolantTemperature')).toEqual(['unit-doubtful']);
    expect(cold.recording.channels.has('coolantTemperature')).toBe(true);
  });

  it('that fit are not doubted: a hot engine in degC', () => {
    const recording = build([
      ENGINE,
      SPEED,
      { label: 'Engine oil temperature', unit: '°C', values: coolant.map((c) => c + 45) },
    ]);
    expect(codes(recording, 'engineOilTemperature')).toEqual([]);
  });
});

describe('duplicates', () => {
  const gps = speed.map((v) => Math.max(0, v * 1.006));
  it('are told apart by the source row: the control unit wins, GPS has its own channel', () => {
    const recording = build([
      ENGINE,
      { label: 'Vehicle speed', unit: '[km/h]', source: 'Sensor', values: new Array(time.length).fill(null) },
      { label: 'Vehicle speed', unit: '[km/h]', source: 'GPS', values: gps },
      { label: 'Vehicle speed', unit: '[km/h]', source: 'ECU', values: speed },
    ]);
    expect(recording.channels.get('vehicleSpeed')!.values[2000]).toBe(speed[2000]);
    expect(recording.channels.get('gpsSpeed')!.values[2000]).toBe(gps[2000]);
  });

  it('without a stand-in are listed with reason and agreement', () => {
    const recording = build([
      { label: 'Engine speed', unit: 'rpm', source: 'Sensor', values: rpm.map((n) => n + 7) },
      { label: 'Engine speed', unit: 'rpm', source: 'ECU', values: rpm },
    ]);
    expect(recording.channels.get('engineSpeed')!.values[2000]).toBe(rpm[2000]);
    expect(recording.columns[1]!.reason).toMatch(/duplicate of engineSpeed.*control unit.*7 rpm/);
    expect(codes(recording)).toContain('duplicate-channel');
  });

  it('prefer the one that moves, and the user over everything', () => {
    const dead = sampled(time, () => 0);
    const specs: ColumnSpec[] = [
      ENGINE,
      { label: 'Vehicle speed', unit: 'km/h', source: 'ECU', values: dead },
      { label: 'Vehicle speed', unit: 'km/h', source: 'Sensor', values: speed },
    ];
    expect(build(specs).channels.get('vehicleSpeed')!.quality.constant).toBe(false);
    const forced = build(specs, { map: { columns: { '#3': { channel: 'vehicleSpeed' } } } });
    expect(forced.channels.get('vehicleSpeed')!.quality.constant).toBe(true);
  });
});

describe('unsupported columns', () => {
  it('are rejected when they stand on a sentinel or outside the range for ever', () => {
    const constant = (x: number) => sampled(time, () => x);
    const recording = build([
      ENGINE,
      { label: 'Engine oil temperature', unit: 'K', values: constant(233.15) },
      { label: 'Engine torque', unit: 'Nm', values: constant(1e10) },
      { label: 'Fuel/air commanded equivalence ratio', values: constant(0) },
      { label: 'Warm-ups since codes cleared', values: constant(255) },
      { label: 'Distance travelled with MIL on', unit: 'km', values: constant(0) },
    ]);
    expect(recording.channels.has('engineOilTemperature')).toBe(false);
    expect(recording.channels.size).toBe(2);
    expect(codes(recording).filter((c) => c === 'constant-unsupported')).toHaveLength(4);
    // A distance of 0 is a fact, not a sentinel.
    expect(report(recording, 'Distance travelled with MIL on').channel).toBeDefined();
  });
});

describe('samples', () => {
  it('that are sentinels, spikes or implausible are set aside, counted and dated', () => {
    const values = coolant.slice();
    for (let i = 2000; i < 2100; i++) values[i] = 215;
    values[3000] = -40;
    values[4000] = 150;
    values[4500] = 65535;
    const recording = build([ENGINE, SPEED, { ...COOLANT, values }]);
    const { quality, values: clean } = recording.channels.get('coolantTemperature')!;
    expect(quality.removed).toMatchObject({ sentinel: 102, spike: 1, implausible: 0 });
    for (const i of [2000, 2099, 3000, 4000, 4500]) expect(clean[i]).toBeNaN();
    expect(quality.samples).toBe(time.length - 103);
    const removed = recording.problems.find((p) => p.code === 'sentinels-removed')!;
    expect(removed).toMatchObject({ channel: 'coolantTemperature', count: 102, from: 200, to: 450 });
  });

  it('of a healthy drive all stay', () => {
    const recording = build([ENGINE, SPEED, COOLANT, LOAD]);
    expect(recording.problems).toEqual([]);
    for (const channel of recording.channels.values()) {
      expect(channel.quality.samples).toBe(time.length);
      expect(channel.quality.frozen).toEqual([]);
      expect(channel.quality.saturated).toEqual([]);
    }
  });

  it('stuck in the middle of a drive are set aside', () => {
    const stuck = rpm.map((n, i) => (i >= 4700 && i < 4850 ? rpm[4700]! : n));
    const recording = build([{ ...ENGINE, values: stuck }, SPEED, COOLANT]);
    expect(codes(recording, 'engineSpeed')).toEqual(['frozen']);
    expect(recording.channels.get('engineSpeed')!.quality.frozen).toHaveLength(1);
    expect(recording.channels.get('engineSpeed')!.values[4800]).toBeNaN();
  });
});

describe('a fluid temperature that leaps', () => {
  const seconds = clock(600, 2);
  const leaps = (change: (t: number, x: number) => number, restart?: number) => {
    const warm = sampled(seconds, (t) => Math.round(change(t, 20 + 70 * (1 - Math.exp(-t / 200)))));
    const table = rawTable(seconds, [
      { label: 'Engine speed', unit: 'rpm', values: sampled(seconds, (t) => 2000 + 300 * Math.sin(t)) },
      { label: 'Transmission oil temperature', unit: '°C', values: warm },
    ]);
    const problems = restart === undefined ? [] : [{ code: 'time-restart' as const, message: '', from: restart }];
    const built = buildRecording({ ...table, problems });
    if (!built.ok) throw new Error(built.fault.message);
    return built.recording.problems.filter(({ code }) => code === 'leap');
  };

  it('and stays there is told with its place, and kept', () => {
    expect(leaps((t, x) => (t >= 100 && t < 400 ? 90 + t / 200 : x))).toMatchObject([
      {
        channel: 'transmissionOilTemperature',
        from: 100,
        message: expect.stringMatching(/from 47 to 9[01] degC at 100 s/),
      },
    ]);
  });

  it.each([
    [21, 0],
    [22, 1],
  ])('by %d K at once: %d', (size, count) => {
    // A change in every row, so that no reading is old: 20 K, and 2 K/s for half a second.
    expect(leaps((t) => (t < 300 ? 61 - ((2 * t) % 2) : 60 + size + ((2 * t) % 2)))).toHaveLength(count);
  });

  it('is none after a restart of the clock, at 1 K/s, and in an ordinary warm-up', () => {
    expect(leaps((t) => (t < 300 ? 30 + t / 20 : 90), 300)).toEqual([]);
    expect(leaps((t) => 30 + Math.min(60, Math.max(0, t - 100)))).toEqual([]);
    expect(leaps((_, x) => x)).toEqual([]);
  });
});

describe('a channel frozen from start to end', () => {
  it('is no channel when it follows the engine, and stays when nothing moved', () => {
    const flat = { label: 'Intake manifold pressure', unit: 'kPa', values: sampled(time, () => 34) };
    const driven = build([ENGINE, SPEED, flat]);
    expect(driven.channels.has('manifoldPressure')).toBe(false);
    expect(codes(driven, 'manifoldPressure')).toEqual(['frozen']);
    const idling = build([{ ...ENGINE, values: sampled(time, () => 700 + 10 * random()) }, flat]);
    expect(idling.channels.has('manifoldPressure')).toBe(true);
  });
});

describe('refresh', () => {
  it('is per channel and by group', () => {
    const recording = build([ENGINE, { ...LOAD, values: held(load, 5) }, COOLANT, SPEED]);
    const quality = (id: string) => recording.channels.get(id)!.quality;
    expect(quality('engineSpeed').rate).toBeCloseTo(10, 6);
    expect(quality('engineLoad').rate).toBeCloseTo(2, 6);
    expect(quality('coolantTemperature').rate).toBeNaN();
    expect(quality('coolantTemperature').groupRate).toBeCloseTo(10, 6);
  });
});

describe('a multi-rate log with empty cells', () => {
  it('keeps every filled cell and takes the rate from the cells', () => {
    const sparse = (values: Float64Array, every: number) => Array.from(values, (x, i) => (i % every === 0 ? x : null));
    const recording = build([
      ENGINE,
      { ...SPEED, values: sparse(speed, 2) },
      { ...LOAD, values: sparse(load, 5) },
      { ...COOLANT, values: sparse(coolant, 20) },
    ]);
    expect(recording.problems).toEqual([]);
    const quality = (id: string) => recording.channels.get(id)!.quality;
    expect(quality('engineLoad').rate).toBeCloseTo(2, 6);
    expect(quality('engineLoad').samples).toBe(1201);
    expect(quality('coolantTemperature').groupRate).toBeCloseTo(0.5, 2);
    expect(quality('coolantTemperature').samples).toBe(301);
  });
});

describe('knock retard', () => {
  const shape = (t: number) => (t % 100 < 1 ? 3 : 0);
  it('logged negative becomes positive and is reported', () => {
    const recording = build([
      ENGINE,
      { label: 'KR1[deg]', values: sampled(time, (t) => -shape(t)) },
      { label: 'KR2[deg]', values: sampled(time, () => 0) },
    ]);
    expect(recording.channels.get('knockRetard.cylinder1')!.values[5]).toBe(3);
    expect(codes(recording, 'knockRetard.cylinder1')).toEqual(['sign-inferred']);
    expect(Object.is(recording.channels.get('knockRetard.cylinder2')!.values[5], 0)).toBe(true);
  });

  it('logged positive stays; both signs are not used', () => {
    const positive = build([ENGINE, { label: 'KR1[deg]', values: sampled(time, shape) }]);
    expect(positive.channels.get('knockRetard.cylinder1')!.values[5]).toBe(3);
    expect(positive.problems).toEqual([]);
    const mixed = build([ENGINE, { label: 'KR1[deg]', values: sampled(time, (t) => shape(t) - shape(t + 50)) }]);
    expect(mixed.channels.has('knockRetard.cylinder1')).toBe(false);
    expect(codes(mixed)).toContain('sign-ambiguous');
  });
});
