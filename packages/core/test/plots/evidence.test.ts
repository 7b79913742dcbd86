import { describe, expect, it } from 'vitest';
import { LOAD_FRACTION } from '../../src/derived/load-fraction.js';
import { isRefusal } from '../../src/derived/recipe.js';
import type { Result } from '../../src/engine/assessment.js';
import { evidenceFigures } from '../../src/plots/evidence.js';
import { overviewOf } from '../../src/plots/overview.js';
import { knockMapOf, trimMaps } from '../../src/plots/speed-load-map.js';
import { RULES } from '../../src/rules/index.js';
import type { RuleEvent } from '../../src/rules/rule.js';
import { clock, driveOf } from '../rules/helpers.js';

type Finding = Extract<Result, { outcome: 'clear' | 'finding' }>;

const rule = (id: string) => RULES.find((each) => each.id === id)!;

function found(id: string, events: readonly RuleEvent[], limits: Finding['limits'] = []): Finding {
  return {
    rule: id,
    summary: '',
    outcome: 'finding',
    severity: 'repair',
    confidence: 0.9,
    measures: {},
    events,
    limits,
  };
}

const time = clock(600, 10);
const heat = driveOf(time, {
  transmissionOilTemperature: { values: (t) => 90 + 40 * Math.exp(-(((t - 300) / 30) ** 2)), unit: 'degC' },
  coolantTemperature: { values: () => 92, unit: 'degC' },
  engineSpeed: { values: (t) => 2000 + 900 * Math.sin(t / 9), unit: 'rpm' },
  vehicleSpeed: { values: (t) => 60 + 30 * Math.sin(t / 9), unit: 'km/h' },
});
const drives = new Map([[0, heat]]);
const limit = (name: string, value: number, source = 'common practice, no source') => ({
  name,
  value,
  unit: 'degC',
  comparison: '>=' as const,
  source,
  about: '',
});

describe('figures of a finding', () => {
  const event = { input: 0, from: 280, to: 320, severity: 'repair' as const, peak: { value: 130, unit: 'degC' } };
  const result = found(
    'transmission.over-temperature',
    [event],
    [limit('repair', 125, 'profile'), limit('cooler', 20)],
  );

  it('show what is judged first, around the event, with its limits by name', () => {
    const [figure] = evidenceFigures(result, rule(result.rule), drives, { figures: 3, points: 5000 });
    expect(figure).toBeDefined();
    const { panels, marks } = figure!;
    expect(panels[0]!.traces[0]!.id).toBe('transmissionOilTemperature');
    expect(panels[0]!.unit).toBe('degC');
    // A limit on a difference is no level of this axis.
    expect(panels[0]!.limits).toEqual([{ name: 'repair', value: 125, source: 'your profile' }]);
    expect(figure!.time[0]).toBe(260);
    expect(figure!.time.at(-1)).toBe(340);
    expect(marks).toEqual([{ from: 280, to: 320, rule: result.rule, severity: 'repair', figure: figure!.id }]);
    expect(panels.flatMap(({ traces }) => traces.map(({ id }) => id))).toContain('engineSpeed');
    const peak = Math.max(...panels[0]!.traces[0]!.values.map((value) => value ?? 0));
    expect(peak).toBeCloseTo(130, 9);
  });

  it('keep the peak when they are thinned', () => {
    const [figure] = evidenceFigures(result, rule(result.rule), drives, { figures: 1, points: 20 });
    expect(figure!.time.length).toBeLessThanOrEqual(20);
    expect(Math.max(...figure!.panels[0]!.traces[0]!.values.map((value) => value ?? 0))).toBe(130);
  });

  it('are not made twice for events that one shows, take the gravest first, and no more than wished', () => {
    const all = found('transmission.over-temperature', [
      { input: 0, from: 20, to: 25, severity: 'watch' },
      event,
      { input: 0, from: 330, to: 335, severity: 'watch' },
      { input: 0, from: 500, to: 505, severity: 'watch' },
    ]);
    const figures = evidenceFigures(all, rule(all.rule), drives, { figures: 9, points: 500 });
    expect(figures.map(({ marks }) => marks.map(({ from }) => from))).toEqual([[280, 330], [20], [500]]);
    expect(evidenceFigures(all, rule(all.rule), drives, { figures: 1, points: 500 })).toHaveLength(1);
  });

  it('keep the event that they were made for, where others overlap it', () => {
    const all = found('transmission.over-temperature', [{ input: 0, from: 200, to: 400 }, event]);
    const [figure] = evidenceFigures(all, rule(all.rule), drives, { figures: 1, points: 500 });
    expect(figure!.marks.map(({ from, to }) => [from, to])).toEqual([
      [200, 400],
      [280, 320],
    ]);
  });

  it('are none for an input that is not there', () => {
    expect(
      evidenceFigures(found('engine.knock', [{ ...event, input: 4 }]), rule('engine.knock'), drives, {
        figures: 3,
        points: 100,
      }),
    ).toEqual([]);
  });

  it('show the cylinder and the bank that an event names', () => {
    const drive = driveOf(time, {
      engineSpeed: { values: () => 3000, unit: 'rpm' },
      'knockRetard.cylinder1': { values: (t) => t % 2, unit: 'deg' },
      'knockRetard.cylinder2': { values: (t) => t % 3, unit: 'deg' },
    });
    const named = found('engine.knock', [
      { input: 0, from: 10, to: 20, cylinder: 2, peak: { value: 2.9, unit: 'deg' } },
    ]);
    const [figure] = evidenceFigures(named, rule('engine.knock'), new Map([[0, drive]]), { figures: 1, points: 1000 });
    expect(figure!.panels[0]!.traces.map(({ id }) => id)).toEqual(['knockRetard.cylinder2']);
  });
});

describe('the whole drive', () => {
  it('has the phases with their seconds, and says why one cannot be told', () => {
    const overview = overviewOf(heat, [], 300)!;
    expect(overview.figure.panels.map(({ unit }) => unit)).toEqual(['km/h', 'rpm', 'degC']);
    const cruise = overview.phases.find(({ kind }) => kind === 'pull');
    expect(cruise?.refused).toMatch(/pedal/);
    expect(overview.phases.find(({ kind }) => kind === 'standstill')).toMatchObject({ seconds: 0, stretches: [] });
  });
});

describe('maps over engine speed and load', () => {
  const drive = driveOf(clock(300, 5), {
    engineSpeed: { values: (t) => (t < 100 ? 1250 : t < 200 ? 1750 : 2750), unit: 'rpm' },
    engineLoad: { values: (t) => (t < 100 ? 20 : t < 200 ? 35 : 45), unit: '%' },
    vehicleSpeed: { values: (t) => 50 + 5 * Math.sin(t), unit: 'km/h' },
    pedalPosition: { values: (t) => (t < 5 ? 0 : t < 10 ? 100 : 30 + Math.sin(t)), unit: '%' },
    'fuelTrimLong.bank1': { values: (t) => (t < 200 ? 5 : 10), unit: '%' },
    'fuelTrimShort.bank1': { values: (t) => (t < 200 ? 0.5 : 10) + 0.01 * Math.sin(t * 7), unit: '%' },
    coolantTemperature: { values: (t) => 90 + Math.sin(t / 20), unit: 'degC' },
    fuelSystemStatus: { values: () => 2, unit: '1' },
  });

  it('average the total trim by time, not the sum of its parts', () => {
    expect(isRefusal(drive.derive(LOAD_FRACTION))).toBe(false);
    const [map] = trimMaps([drive]);
    // (1 + 0.10)(1 + 0.10) - 1 = 21 %; the sum would be 20.
    const cell = map!.cells.find(({ speed, load }) => speed === 2500 && load === 0.4);
    expect(cell?.value).toBeCloseTo(21, 1);
    expect(cell?.seconds).toBeGreaterThan(95);
    expect(map!.cells.find(({ speed }) => speed === 1500)?.value).toBeCloseTo(100 * (1.05 * 1.005 - 1), 1);
  });

  it('join the cylinders of the knock map: highest retard, all events, time once', () => {
    const cell = { speed: 3000, load: 0.8, visits: 2, mean: 1 };
    const map = knockMapOf({
      knockMap: {
        cell: { speed: 500, load: 0.1 },
        cells: [
          { ...cell, cylinder: 1, time: 3, events: 1, max: 2.5 },
          { ...cell, cylinder: 2, time: 3, events: 2, max: 4 },
          { ...cell, load: null, cylinder: 2, time: 3, events: 2, max: 9 },
        ],
      },
    });
    expect(map!.cells).toEqual([{ speed: 3000, load: 0.8, value: 4, seconds: 3, events: 3 }]);
    expect(knockMapOf(undefined)).toBeUndefined();
  });
});
