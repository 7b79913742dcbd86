import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Drive } from '../../src/derived/recipe.js';
import { assess } from '../../src/engine/assess.js';
import type { Assessment } from '../../src/engine/assessment.js';
import type { LogbookEntry } from '../../src/logbook/entry.js';
import { logbookEntry } from '../../src/logbook/entry-of.js';
import { trackedMeasure } from '../../src/logbook/tracked.js';
import { TRACKED_ROWS } from '../../src/logbook/tracked-rows.js';
import { RULES } from '../../src/rules/index.js';
import { findUnit } from '../../src/units/index.js';
import { readProfile } from '../../src/vehicle/profile.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../../src/vehicle/vehicle.js';

const file = (name: string) => fileURLToPath(new URL(`../../../../test-data/${name}`, import.meta.url));
const input = (name: string) => ({ name, source: new Uint8Array(readFileSync(file(name))) });
const FACTS = { hash: 'f'.repeat(64), car: 'demo', recordedAt: '2026-03-01T10:00:00' };

let vehicle: Vehicle;
let assessment: Assessment;
let drives: Drive[];
let entry: LogbookEntry;
beforeAll(async () => {
  const profile = readProfile(readFileSync(file('demo.vehicle.yaml'), 'utf8'), 'demo.vehicle.yaml');
  if (!profile.ok) throw new Error('the demo profile is not understood');
  vehicle = profile.value;
  drives = [];
  assessment = await assess(['demo.csv', 'demo.stored.csv'].map(input), {
    vehicle,
    onDrive: (drive) => void drives.push(drive),
  });
  entry = logbookEntry(assessment, drives, FACTS);
});

describe('an entry of the logbook', () => {
  it('holds the measures that the rules found, in their units, each once and in order', () => {
    const ids = entry.measures.map(({ id }) => id);
    expect(ids).toEqual([...new Set(ids)].sort());
    expect(ids.length).toBeGreaterThan(25);
    for (const { id, value, unit } of entry.measures) {
      const result = assessment.results.find(({ rule }) => id.startsWith(`${rule}.`))!;
      const name = id.slice(result.rule.length + 1);
      const measure = 'measures' in result ? result.measures?.[name] : undefined;
      // What the rules do not carry: brought to one oil temperature, by pair of gears, by test.
      if (measure === undefined) expect(id).toMatch(/hotIdleReference|duration\.\d|margin\.|coastDown|timeConstant/);
      else {
        expect(value, id).toBeCloseTo(measure.value as number, 9);
        expect(unit, id).toBe(measure.unit ?? '1');
      }
    }
  });

  it('follows nothing twice', () => {
    const ids = entry.measures.map(({ id }) => id);
    expect(ids).toContain('engine.oil-pressure.hotIdleReference');
    expect(ids).not.toContain('engine.oil-pressure.hotIdle');
    expect(ids.some((id) => id.startsWith('codes.monitor-results.margin.'))).toBe(true);
    expect(ids).not.toContain('codes.monitor-results.least');
  });

  it('carries standard errors where the drive tells them', () => {
    const of = (id: string) => entry.measures.find((each) => each.id === id)!;
    for (const id of [
      'fuel.trim.idle.bank1',
      'electrical.charging.crank',
      'engine.oil-pressure.hotIdleReference',
      'transmission.over-temperature.coolingTimeConstant',
    ]) {
      expect(of(id).standardError, id).toBeGreaterThan(0);
      expect(of(id).standardError! / Math.abs(of(id).value), id).toBeLessThan(0.3);
    }
    expect(of('fuel.trim.idle.bank1').samples).toBeGreaterThan(1);
    expect(of('engine.idle.swing').standardError).toBeNull();
  });

  it('knows odometer, engine hours, weather and load, and says null where it does not', () => {
    expect(entry.distance).toBe(41_950);
    expect(entry.engineHours).toBe(871);
    // 17 °C outside; without a sensor it is told by intake air on the move, ± 5 K.
    expect(Math.abs(entry.covariates.ambientTemperature! - 17)).toBeLessThan(10);
    expect(entry.covariates.load).toBeGreaterThan(0.05);
    expect(entry.covariates.load).toBeLessThan(0.6);
    expect(entry.covariates.fuel).toBeNull();
    expect(logbookEntry(assessment, drives, { ...FACTS, distance: 7 }).distance).toBe(7);
  });

  it('sums up what was found, the gravest first, and what stayed open', () => {
    const { summary } = entry;
    expect(summary.level).toBe(assessment.verdict.level);
    expect(summary.index).toEqual(assessment.verdict.index);
    expect(summary.findings.length).toBe(assessment.results.filter(({ outcome }) => outcome === 'finding').length);
    const rank = { watch: 1, repair: 2, stop: 3 };
    const ranks = summary.findings.map(({ severity }) => rank[severity]);
    expect(ranks).toEqual([...ranks].sort((a, b) => b - a));
    expect(summary.unproven).toContain('engine.misfire');
  });

  it('keeps nothing but numbers, ids and our own sentences', () => {
    const text = JSON.stringify(entry);
    expect(text).not.toContain('demo.csv');
    expect(text.length).toBeLessThan(20_000);
    expect(Object.keys(entry)).toEqual([
      'hash',
      'car',
      'recordedAt',
      'distance',
      'engineHours',
      'measures',
      'covariates',
      'summary',
    ]);
  });
});

describe('the catalogue of tracked measures', () => {
  it('names rules, limits and units that exist', () => {
    for (const row of TRACKED_ROWS) {
      const rule = RULES.find(({ id }) => id === row.rule);
      expect(rule, `${row.rule}`).toBeDefined();
      expect(row.measure.indexOf('*') === -1 || row.measure.endsWith('*'), row.measure).toBe(true);
      if (row.unit !== '1') expect(findUnit(row.unit), row.unit).toBeDefined();
      if (row.limit === undefined) continue;
      const limits = rule!.limits.filter(({ name }) => name === row.limit);
      expect(limits, `${row.rule} ${row.limit}`).not.toEqual([]);
      for (const { comparison, unit } of limits) {
        if (row.worse !== 'either')
          expect(comparison[0], `${row.rule} ${row.measure}`).toBe(row.worse === 'higher' ? '>' : '<');
        // A count or ratio has no unit, or the same unit in words.
        if (unit !== row.unit)
          expect([unit, row.unit], `${row.rule} ${row.measure}`).toEqual([expect.anything(), expect.anything()]);
      }
    }
  });

  it('says what it knows of each measure of the demo', () => {
    for (const { id, unit } of entry.measures) {
      const known = trackedMeasure(id, RULES, vehicle);
      expect(known, id).toBeDefined();
      expect(known!.name, id).not.toMatch(/\*|undefined/);
      expect(known!.unit, id).toBe(unit);
    }
    expect(trackedMeasure('fuel.trim.idle.bank2', RULES)).toMatchObject({
      name: 'trim at idle, bank 2',
      worse: 'either',
      limit: { value: 10, name: 'watch' },
    });
    expect(trackedMeasure('no.such.measure', RULES)).toBeUndefined();
    expect(trackedMeasure('fuel.trim.nonsense', RULES)).toBeUndefined();
    expect(trackedMeasure('fuel.trim.idle.bankDifference', RULES)).toBeUndefined();
  });

  it('takes the limit of the car: variant and profile', () => {
    const id = 'transmission.shift-quality.duration.2-3';
    expect(trackedMeasure(id, RULES, vehicle)!.limit!.value).toBe(0.6);
    const converter: Vehicle = { ...UNKNOWN_VEHICLE, transmission: { kind: 'converter' } };
    expect(trackedMeasure(id, RULES, converter)!.limit!.value).toBe(1.2);
    // Not known which: the one that is reached last.
    expect(trackedMeasure(id, RULES)!.limit!.value).toBe(1.2);
    const own: Vehicle = { ...UNKNOWN_VEHICLE, limits: { 'fuel.trim': { watch: { value: 0.08, unit: '1' } } } };
    expect(trackedMeasure('fuel.trim.idle.bank1', RULES, own)!.limit).toMatchObject({ value: 8, source: 'profile' });
  });
});
