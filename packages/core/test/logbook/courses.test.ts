import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { jsonSchemas } from '../../src/docs/schemas.js';
import { carReport, fleetLine } from '../../src/logbook/car-report.js';
import { carCourses } from '../../src/logbook/courses.js';
import type { LogbookEntry, LogbookNote } from '../../src/logbook/entry.js';
import { toJson } from '../../src/report/json.js';
import { carPage } from '../../src/report/page/logbook-page.js';
import { RULES } from '../../src/rules/index.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';

/** The same numbers each time, normal: sum of twelve uniform ones (mulberry32, T. Ettinger, public domain). */
function noise(seed: number): () => number {
  let state = seed;
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
  return () => Array.from({ length: 12 }, uniform).reduce((sum, x) => sum + x, -6);
}

const TRIM = 'fuel.trim.idle.bank1';
const CRANK = 'electrical.charging.crank';

/** Monthly drives: an idle trim that drifts by so many points a year, and a crank voltage that does not. */
function ownership(months: number, perYear: number, seed = 3, stepAt = Number.POSITIVE_INFINITY): LogbookEntry[] {
  const random = noise(seed);
  return Array.from({ length: months }, (_, n) => {
    const summer = -Math.cos((2 * Math.PI * (n + 0.5)) / 12);
    const value = 1 + (perYear * n) / 12 + 0.4 * summer + 0.5 * random() + (n >= stepAt ? 4 : 0);
    return {
      hash: String(n),
      car: 'saloon',
      recordedAt: `${2022 + Math.floor(n / 12)}-${String((n % 12) + 1).padStart(2, '0')}-10T10:00:00`,
      distance: 40_000 + 1000 * n,
      engineHours: null,
      measures: [
        { id: CRANK, value: 10.2 + 0.3 * summer + 0.1 * random(), standardError: 0.1, samples: 4, unit: 'V' },
        { id: TRIM, value, standardError: 0.3, samples: 40, unit: '%' },
        { id: 'no.such.measure', value: 1, standardError: null, samples: null, unit: '1' },
      ],
      covariates: { ambientTemperature: 11 + 9 * summer + random(), load: 0.25, altitude: 200, fuel: 0.1 },
      summary: { level: 'sound', coverage: 0.8, index: { low: 80, high: 100 }, findings: [], unproven: [] },
    };
  });
}

const coursesOf = (entries: LogbookEntry[], notes: LogbookNote[] = []) => {
  const all = carCourses(entries, notes, RULES);
  return { trim: all.find(({ id }) => id === TRIM)!, crank: all.find(({ id }) => id === CRANK)!, all };
};

describe('courses of the measures of a car', () => {
  it('tell a drift with its size, onset, limit and forecast, and leave the steady one steady', () => {
    const { trim, crank, all } = coursesOf(ownership(24, 3));
    expect(all.map(({ id }) => id).sort()).toEqual([CRANK, TRIM].sort());
    expect(trim.state).toBe('drifting');
    expect(crank.state).toBe('steady');
    // 3 points a year at 12 000 km a year: 2.5 in 10 000 km.
    expect(trim.slope!.per).toBe('10000 km');
    expect(trim.slope!.low!).toBeLessThan(2.5);
    expect(trim.slope!.high!).toBeGreaterThan(2.5);
    expect(trim.limit).toMatchObject({ value: 10, name: 'watch' });
    // From 7 to 10 at 3 a year: about a year on.
    expect(trim.forecast!.date!.low! > '2024-01-01').toBe(true);
    expect(trim.forecast!.date!.low! < '2025-02-01').toBe(true);
    expect(trim.forecast!.distance!.low!).toBeGreaterThan(63_000);
    expect(trim.alarm! >= '2022-06' && trim.alarm! < '2024').toBe(true);
    expect(trim.says).toMatch(/^It rises by .* % a year, since about \d{4}-\d{2}/);
    expect(trim.points).toHaveLength(24);
    expect(trim.band.length).toBeGreaterThan(10);
    expect(crank.forecast).toBeNull();
    expect(crank.says).toMatch(/^No drift beyond/);
  });

  it('say how many drives are needed, and that weather and wear cannot be told apart yet', () => {
    const few = coursesOf(ownership(2, 0)).trim;
    expect(few.state).toBe('too-few-drives');
    expect(few.drivesNeeded).toBeGreaterThan(0);
    expect(few.says).toContain('Too few drives');
    const half = coursesOf(ownership(7, 0)).trim;
    expect(half.state).toBe('weather-or-wear');
    expect(half.says).toContain('not separable yet');
    expect(half.slope).toBeNull();
    expect(carCourses([], [], RULES)).toEqual([]);
  });

  it('call steady what was the same in every drive', () => {
    const same = ownership(6, 0).map((entry) => ({
      ...entry,
      measures: entry.measures.map((each) => ({ ...each, value: 2, standardError: null })),
    }));
    expect(coursesOf(same).trim).toMatchObject({ state: 'steady', says: 'The same in all 6 drives.', drivesNeeded: 0 });
    expect(coursesOf(same.slice(0, 4)).trim.state).toBe('too-few-drives');
  });

  it('start anew at work on the car, and show it', () => {
    const note: LogbookNote = { car: 'saloon', date: '2023-01-01', distance: 51_500, kind: 'software', text: '' };
    const stepped = ownership(24, 0, 5, 12);
    const told = coursesOf(stepped, [note]).trim;
    expect(told.baselines).toEqual([{ date: '2023-01-01', kind: 'software' }]);
    expect(told.state).not.toBe('drifting');
    const untold = coursesOf(stepped).trim;
    expect(untold.baselines).toEqual([]);
    expect(['changed', 'drifting']).toContain(untold.state);
    // Oil is nothing to the mixture.
    expect(coursesOf(stepped, [{ ...note, kind: 'oil' }]).trim.baselines).toEqual([]);
  });

  it('run towards the limit of the profile', () => {
    const own = { ...UNKNOWN_VEHICLE, limits: { 'fuel.trim': { watch: { value: 8, unit: '%' } } } };
    const entries = ownership(24, 3);
    const usual = carCourses(entries, [], RULES).find(({ id }) => id === TRIM)!;
    const lower = carCourses(entries, [], RULES, own).find(({ id }) => id === TRIM)!;
    expect(lower.limit).toMatchObject({ value: 8, source: 'profile' });
    expect(lower.forecast!.date!.value! < usual.forecast!.date!.value!).toBe(true);
  });

  it('are drawn as level before a change begins, for a drift and for a step', () => {
    const late = ownership(36, 0).map((entry, n) => ({
      ...entry,
      measures: entry.measures.map((each) =>
        each.id === TRIM ? { ...each, value: each.value + Math.max(0, (n - 18) / 3) } : each,
      ),
    }));
    for (const [trim, state, onset] of [
      [coursesOf(late).trim, 'drifting', 18],
      [coursesOf(ownership(24, 0, 3, 12)).trim, 'changed', 12],
    ] as const) {
      expect(trim.state).toBe(state);
      expect(trim.band).toHaveLength(trim.points.length);
      const before = trim.band.slice(0, onset - 4).map(({ value }) => value);
      // The true level is 1.
      for (const value of before) expect(value).toBeCloseTo(before[0]!, 9);
      expect(Math.abs(before[0]! - 1)).toBeLessThan(0.6);
      expect(trim.band.at(-1)!.value).toBeGreaterThan(4);
      expect(trim.ahead).toHaveLength(5);
    }
  });

  it('make a report that fits its schema, and a page with the limit and the band', () => {
    const check = new Ajv2020({ strict: true }).compile(jsonSchemas()['logbook.json']!);
    for (const [months, drift] of [
      [0, 0],
      [1, 0],
      [2, 0],
      [7, 0],
      [24, 3],
      [24, -3],
    ] as const) {
      const entries = ownership(months, drift);
      const report = carReport('saloon', entries, [], carCourses(entries, [], RULES));
      expect(check(JSON.parse(toJson(report))), JSON.stringify(check.errors)).toBe(true);
      expect(carPage(report)).not.toMatch(/NaN|undefined|Infinity/);
      if (drift !== 0) {
        expect(report.measures[0]!.id).toBe(TRIM);
        expect(fleetLine(report)).toMatchObject({ drifting: ['trim at idle, bank 1'] });
      }
    }
  });
});
