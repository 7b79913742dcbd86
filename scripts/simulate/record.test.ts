import { gunzipSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import {
  type Dialect,
  drawDialect,
  drawDrive,
  PLAIN,
  Random,
  type Recorded,
  record,
  simulate,
  toCsv,
} from './index.js';

const sim = simulate({
  seed: 5,
  car: 'demo-saloon',
  script: [
    { kind: 'coldStart', duration: 8 },
    { kind: 'selectorExercise', repeats: 1 },
    { kind: 'gentleGears', to: 60 },
    { kind: 'pull', gear: 3, fromRpm: 2200, toRpm: 4500 },
  ],
  ambient: { temperature: 12 },
});
const ids = [
  'engineSpeed',
  'coolantTemperature',
  'manifoldPressure',
  'airMassFlow',
  'lambda.bank1',
  'gear',
  'selector',
  'knockRetard.cylinder3',
  'pedalPosition',
];
const plain = record(sim, { seed: 2, rate: 10, channels: ids });
const written = (dialect: Partial<Dialect>, recorded: Recorded = plain) => toCsv(recorded, { ...PLAIN, ...dialect });
const text = (bytes: Uint8Array) => new TextDecoder('utf-8').decode(bytes);
const cell = (dialect: Partial<Dialect>, id: string, row: number) => {
  const line = text(written(dialect).bytes).split('\n')[row + 1]!;
  return line.split(dialect.delimiter ?? ',')[ids.indexOf(id) + 1]!;
};

describe('record', () => {
  it('is the same for the same seed and another for another seed', () => {
    expect(written({}).bytes).toEqual(written({}, record(sim, { seed: 2, rate: 10, channels: ids })).bytes);
    expect(written({}).bytes).not.toEqual(written({}, record(sim, { seed: 3, rate: 10, channels: ids })).bytes);
  });

  it('keeps to the steps of service 01 bytes (SAE J1979: A*100/255, A-40)', () => {
    const pedal = plain.columns[ids.indexOf('pedalPosition')]!;
    for (const v of pedal.values) expect(Math.abs((v * 255) / 100 - Math.round((v * 255) / 100))).toBeLessThan(1e-6);
    for (const v of plain.columns[ids.indexOf('coolantTemperature')]!.values) expect(Number.isInteger(v)).toBe(true);
  });

  it('holds a value until the next fresh one', () => {
    const slow = record(sim, { seed: 2, rate: 10, channels: [{ id: 'engineSpeed', refresh: 2 }] }).columns[0]!;
    let changes = 0;
    for (let i = 1; i < slow.values.length; i++) {
      if (slow.values[i] !== slow.values[i - 1]) {
        changes++;
        expect(slow.fresh[i]).toBe(1);
      }
    }
    expect(changes).toBeGreaterThan(20);
    expect(changes).toBeLessThanOrEqual((slow.values.length / 10) * 2 + 1);
  });

  it('loses rows, empties cells and injects sentinels where it is told', () => {
    const bad = record(sim, {
      seed: 2,
      rate: 10,
      channels: ids,
      lostRows: 0.1,
      disturbances: [
        { kind: 'empty', channels: ['airMassFlow'], from: 5, to: 8 },
        { kind: 'value', channels: ['coolantTemperature'], from: 10, to: 12, value: 215 },
      ],
    });
    expect(bad.time.length).toBeLessThan(plain.time.length * 0.95);
    const inside = (from: number, to: number) =>
      [...bad.time.keys()].filter((i) => bad.time[i]! >= from && bad.time[i]! < to);
    expect(inside(5, 8).length).toBeGreaterThan(5);
    for (const i of inside(5, 8)) expect(bad.columns[ids.indexOf('airMassFlow')]!.values[i]).toBeNaN();
    for (const i of inside(10, 12)) expect(bad.columns[ids.indexOf('coolantTemperature')]!.values[i]).toBe(215);
    expect(bad.columns[ids.indexOf('coolantTemperature')]!.values[inside(12, 13)[0]!]).toBeLessThan(40);
  });

  it('refuses a channel that the car has not, and says which it has', () => {
    expect(() => record(sim, { seed: 1, rate: 10, channels: ['lambda.bank7'] })).toThrow(/lambda\.bank7.*engineSpeed/s);
  });
});

describe('toCsv', () => {
  it('writes names, units and numbers plainly', () => {
    const lines = text(written({}).bytes).split('\n');
    expect(lines[0]).toContain('Time (s),Engine speed (rpm),Engine coolant temperature (°C)');
    expect(lines.length).toBe(plain.time.length + 2);
  });

  it.each([
    ['degF', 'coolantTemperature', (v: number) => v * 1.8 + 32],
    ['K', 'coolantTemperature', (v: number) => v + 273.15],
    ['psi', 'manifoldPressure', (v: number) => v * 0.145037738],
    ['lb/min', 'airMassFlow', (v: number) => v * 0.132277357],
    ['AFR', 'lambda.bank1', (v: number) => v * 14.7],
    ['phi', 'lambda.bank1', (v: number) => 1 / v],
    ['fraction', 'pedalPosition', (v: number) => v / 100],
  ] as const)('writes %s for %s (factors: NIST SP 811)', (unit, id, expected) => {
    const row = 150;
    const value = plain.columns[ids.indexOf(id)]!.values[row]!;
    const shown = Number(cell({ units: new Map([[id, unit]]) }, id, row));
    expect(Math.abs(shown / expected(value) - 1)).toBeLessThan(0.02);
  });

  it('writes every encoding so that a decoder of that name reads the same text', () => {
    const same = text(written({}).bytes);
    expect(new TextDecoder('utf-8').decode(written({ encoding: 'utf-8-bom' }).bytes)).toBe(same);
    expect([...written({ encoding: 'utf-8-bom' }).bytes.slice(0, 3)]).toEqual([0xef, 0xbb, 0xbf]);
    expect(new TextDecoder('utf-16le').decode(written({ encoding: 'utf-16le' }).bytes)).toBe(same);
    expect(new TextDecoder('utf-16be').decode(written({ encoding: 'utf-16be' }).bytes)).toBe(same);
    expect(new TextDecoder('windows-1252').decode(written({ encoding: 'windows-1252' }).bytes)).toBe(same);
    expect(new TextDecoder().decode(gunzipSync(written({ gzip: true }).bytes))).toBe(same);
  });

  it('writes time in every form, over midnight too', () => {
    const first = (dialect: Partial<Dialect>, row: number) =>
      text(written(dialect).bytes).split('\n')[row + 1]!.split(',')[0];
    expect(first({ time: 'milliseconds' }, 10)).toBe('1000');
    expect(first({ time: 'microseconds' }, 10)).toBe('1000000');
    expect(first({ time: 'clock', startOfDay: 86399.5 }, 10)).toBe('00:00:00.500');
    expect(first({ time: 'iso-8601', startEpoch: 1_709_164_799 }, 10)).toBe('2024-02-29T00:00:00.000Z');
    expect(first({ time: 'epoch-milliseconds', startEpoch: 1_700_000_000 }, 10)).toBe('1700000001000');
  });

  it('codes reverse, the selector and the sign of knock as told', () => {
    const reverse = plain.columns[ids.indexOf('gear')]!.values.indexOf(-1);
    expect(reverse).toBeGreaterThan(0);
    expect(cell({ reverse: '14' }, 'gear', reverse)).toBe('14');
    expect(cell({ selectorText: false }, 'selector', reverse)).toBe('1');
    expect(cell({}, 'selector', reverse)).toBe('R');
    const knocking = simulate({
      seed: 1,
      car: 'demo-saloon',
      script: [{ kind: 'pull', gear: 3, fromRpm: 2000, toRpm: 5000 }],
      ambient: { temperature: 12 },
      disturb: (p) => p.knock.push({ cylinders: [3], retard: 5, from: 2500, to: 4000, pulls: [1] }),
    });
    const rows = text(
      written({ knockNegative: true }, record(knocking, { seed: 1, rate: 10, channels: ['knockRetard.cylinder3'] }))
        .bytes,
    ).split('\n');
    expect(Math.min(...rows.slice(1, -1).map((r) => Number(r.split(',')[1])))).toBeLessThan(-4);
  });

  it('draws dialects that vary in every respect', () => {
    const seen = new Map<string, Set<string>>();
    for (let seed = 0; seed < 300; seed++) {
      const d = drawDialect(new Random(seed), ids);
      for (const [key, value] of Object.entries(d)) {
        if (value instanceof Map) continue;
        const values = seen.get(key) ?? new Set<string>();
        seen.set(key, values.add(Array.isArray(value) ? String(value.length > 0) : String(value)));
      }
      if (d.decimal === ',') expect(d.delimiter).not.toBe(',');
    }
    expect(seen.get('encoding')?.size).toBe(5);
    expect(seen.get('time')?.size).toBe(8);
    expect(seen.get('delimiter')?.size).toBe(4);
    expect(seen.get('naming')?.size).toBe(5);
    for (const [key, values] of seen) expect(values.size, key).toBeGreaterThan(1);
  });
});

describe('drawDrive', () => {
  it('gives the same bytes for the same seed', () => {
    const make = () => {
      const d = drawDrive({ seed: 77, kind: 'short' });
      return toCsv(record(simulate(d.spec), d.record), d.dialect).bytes;
    };
    expect(make()).toEqual(make());
  });
});
