import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { jsonSchemas } from '../../src/docs/schemas.js';
import { type CarReport, type Course, carReport, fleetLine, fleetReport } from '../../src/logbook/car-report.js';
import { dueFor, dueList } from '../../src/logbook/due.js';
import type { LogbookEntry, LogbookNote } from '../../src/logbook/entry.js';
import { redact } from '../../src/redaction/redact.js';
import { dueDocument } from '../../src/report/due-document.js';
import { toJson } from '../../src/report/json.js';
import { carDocument, fleetDocument } from '../../src/report/logbook-document.js';
import { renderMarkdown } from '../../src/report/markdown.js';
import { carPage, fleetPage } from '../../src/report/page/logbook-page.js';
import { renderText } from '../../src/report/text.js';

const EVIL = '<script>alert(1)</script>\u202e';

function entry(
  month: number,
  findings: LogbookEntry['summary']['findings'],
  more: Partial<LogbookEntry['summary']> = {},
): LogbookEntry {
  return {
    hash: String(month),
    car: 'saloon',
    recordedAt: `2026-${String(month).padStart(2, '0')}-05T10:00:00`,
    distance: 40_000 + 1000 * month,
    engineHours: null,
    measures: [],
    covariates: { ambientTemperature: 10, load: 0.3, altitude: null, fuel: null },
    summary: { level: 'watch', coverage: 0.7, index: { low: 60, high: 90 }, findings, unproven: [], ...more },
  };
}

const course = (over: Partial<Course>): Course => ({
  id: 'fuel.trim.idle.bank1',
  name: 'trim at idle, bank 1',
  unit: '%',
  worse: 'either',
  limit: { value: 10, name: 'watch', source: 'common practice' },
  state: 'steady',
  says: 'No drift beyond what chance explains.',
  drives: 5,
  drivesNeeded: 0,
  slope: { low: -0.5, value: 0.2, high: 0.9, per: 'year' },
  forecast: null,
  alarm: null,
  changes: [],
  baselines: [],
  points: [1, 2, 3, 4, 5].map((m) => ({
    at: `2026-0${m}-05T10:00:00`,
    distance: 1000 * m,
    value: 2 + m,
    standardError: 0.4,
  })),
  band: [1, 2, 3, 4, 5].map((m) => ({ at: `2026-0${m}-05T10:00:00`, low: 1 + m, value: 2 + m, high: 3 + m })),
  ahead: [],
  ...over,
});

const lean = { rule: 'fuel.trim', severity: 'watch' as const, summary: 'Idle trim 11 %.' };
const knock = { rule: 'engine.knock', severity: 'repair' as const, summary: 'Knock.' };
const note: LogbookNote = { car: 'saloon', date: '2026-05-01', distance: 44_900, kind: 'oil', text: EVIL };
const drifting = course({
  id: 'electrical.charging.crank',
  name: 'voltage while cranking',
  unit: 'V',
  worse: 'lower',
  limit: { value: 6, name: 'crank-warm', source: 'common practice, no source' },
  state: 'drifting',
  says: 'Falls by 1.1 V a year.',
  slope: { low: -1.4, value: -1.1, high: -0.8, per: 'year' },
  forecast: {
    date: { low: '2026-09-01', value: '2026-12-01', high: null },
    distance: { low: 52_000, value: 55_000, high: null },
  },
  alarm: '2026-05-05',
  changes: ['2026-03-05'],
  baselines: [{ date: '2026-02-10', kind: 'battery' }],
});

const entries = [
  entry(4, [lean, { ...knock, rule: 'engine.idle' }]),
  entry(5, [{ ...lean, severity: 'repair' }, knock], { level: 'repair', unproven: ['engine.idle'] }),
];
const due = dueFor({ car: 'saloon', entries, notes: [note], asOf: '2026-07-01', drifting: [drifting.name] });
const report: CarReport = carReport(
  'saloon',
  entries,
  [note],
  [
    course({}),
    course({ id: 'x', name: 'few', state: 'too-few-drives', drivesNeeded: 3, slope: null, band: [] }),
    drifting,
  ],
  due,
);

describe('the report of one car', () => {
  it('puts the worst course first, and says what is new, graver, gone and done', () => {
    expect(report.measures.map(({ state }) => state)).toEqual(['drifting', 'steady', 'too-few-drives']);
    expect(report.since).toMatchObject({
      level: { before: 'watch', now: 'repair' },
      appeared: [{ rule: 'fuel.trim', severity: 'repair' }, { rule: 'engine.knock' }],
      // Idle was not shown this time: not shown is not gone.
      gone: [],
      alarms: ['voltage while cranking'],
      notes: [note],
    });
    const gone = carReport('saloon', [entry(4, [lean]), entry(5, [])], [], []).since!;
    expect(gone.gone).toEqual([{ rule: 'fuel.trim', severity: 'watch' }]);
    expect(carReport('saloon', [entry(4, [])], [], []).since).toBeNull();
    expect(carReport('saloon', [], [], [])).toMatchObject({ drives: 0, first: null, last: null, latest: null });
  });

  it('fits its schema, in every form that numbers take', () => {
    const schemas = jsonSchemas();
    const fits = (name: string, document: unknown): void => {
      const check = new Ajv2020({ strict: true }).compile(schemas[name]!);
      expect(check(JSON.parse(toJson(document))), `${name}: ${JSON.stringify(check.errors)}`).toBe(true);
    };
    fits('logbook.json', report);
    fits('logbook.json', carReport('saloon', [], [], []));
    fits('logbook.json', redact(report));
    fits('fleet.json', fleetReport([fleetLine(report), fleetLine(carReport('x', [], [], []))]));
    fits('due.json', dueList('2026-07-01', [due]));
    const one = {
      ...entry(3, []),
      measures: [
        { id: 'transmission.over-temperature.ageingPerHour', value: 2, standardError: null, samples: null, unit: '1' },
      ],
    };
    fits(
      'due.json',
      dueList('2026-07-01', [dueFor({ car: 'a', entries: [one, entry(4, [])], notes: [], asOf: '2026-07-01' })]),
    );
  });

  it('reads as text: limit, change with its interval, forecast that may never come', () => {
    const paint = (words: string): string => words;
    const shown = renderText(carDocument(report), { width: 110, paint } as never);
    expect(shown).toContain('drifting  voltage while cranking');
    expect(shown).toContain('-1.1 (-1.4 to -0.8) V a year');
    expect(shown).toContain(
      '2026-09 at the earliest, or never; at 52 000 km at the earliest, or never'.replace(' 000', '\u202f000'),
    );
    expect(shown).toContain('2026-02-10 (battery changed)');
    expect(shown).toContain('Verdict: watch, now repair');
    expect(shown).toContain('overdue');
    expect(shown).toMatch(/few .* 3 more/);
    expect(shown).not.toMatch(/undefined|NaN|null|\[object/);
    expect(shown).not.toContain('\u202e');
  });

  it('is a page without script or network, with a band for each course, and texts as data', () => {
    const page = carPage(report);
    expect(page).toContain("default-src 'none'");
    expect(page).not.toContain('<script');
    expect(page).toContain('&lt;script&gt;');
    expect(page.match(/class="band"/g)).toHaveLength(2);
    expect(page.match(/class="limit" d=/g)).toHaveLength(3);
    expect(page).toContain('<text x="');
    expect(page).toContain('>battery</text>');
    expect(page).not.toMatch(/undefined|NaN|Infinity|\[object/);
    expect(page).toBe(carPage(report));
    expect(carPage(carReport('empty', [], [], []))).toContain('no drive yet');
    for (const id of ['since', 'due', 'drift', 'courses']) expect(page).toContain(`<section id="${id}"`);
  });

  it('draws where a drift goes, half as far ahead as was seen, and the axis with it', () => {
    const ahead = [1, 2, 3, 4, 5].map((k) => ({
      at: `2026-0${4 + k}-0${k === 1 ? 6 : 4}`,
      low: 4 + k,
      value: 7 + k,
      high: 9 + k,
    }));
    const page = carPage(carReport('saloon', [entry(1, []), entry(5, [])], [], [course({ state: 'drifting', ahead })]));
    const [, path] = /<path class="t0 ahead" d="([^"]+)"/.exec(page)!;
    // Seen from January to May: two months ahead.
    expect(path!.split('L')).toHaveLength(3);
    expect(page.match(/class="band ahead"/g)).toHaveLength(1);
    expect(page).toContain('>2026-07</text>');
    expect(page).not.toContain('>2026-09</text>');
    expect(carPage(carReport('saloon', [], [], [course({})]))).not.toContain('class="band ahead"');
  });

  it('says in one sentence what was the same in every drive, with its limit', () => {
    const at = ['2026-01-05', '2026-02-05'];
    const still = course({
      name: 'cam offset',
      unit: 'deg',
      limit: { value: 5, name: 'offset-watch', source: 'common practice' },
      slope: null,
      points: at.map((each) => ({ at: each, distance: null, value: 1, standardError: null })),
      band: [],
    });
    const shown = renderText(carDocument(carReport('saloon', [], [], [still, course({})])));
    expect(shown).toMatch(/the same in every drive\n {2}cam offset 1° \(limit 5°\)/);
    expect(shown).toMatch(/trim at idle, bank 1 +7 % +10 % +steady +\+0\.2 \(-0\.5 to \+0\.9\)/);
    expect(shown).toContain('change a year');
  });

  it('says at a note which measures it started anew, and names a few of many', () => {
    const begun = Array.from({ length: 6 }, (_, k) =>
      course({ id: `m${k}`, name: `measure ${k}`, baselines: [{ date: '2026-05-01', kind: 'software' }] }),
    );
    const done: LogbookNote = { car: 'saloon', date: '2026-05-01', distance: null, kind: 'software', text: '' };
    const shown = renderMarkdown(
      carDocument(carReport('saloon', [], [{ ...done, kind: 'oil' }, done], [...begun, course({})])),
    );
    expect(shown).toContain(
      'another program in a control unit; new baseline: measure 0; measure 1; measure 2; measure 3; and 2 more',
    );
    expect(shown).toMatch(/engine oil changed$/m);
  });

  it('draws one drive alone, and courses of no height', () => {
    const flat = course({
      points: [{ at: '2026-01-01', distance: null, value: 0, standardError: null }],
      band: [],
      limit: null,
    });
    const page = carPage(carReport('saloon', [entry(1, [])], [], [flat]));
    expect(page).toContain('<circle');
    expect(page).not.toMatch(/NaN|Infinity/);
  });

  it('hides the label of the car where it is asked to', () => {
    const hidden = JSON.stringify(redact(report));
    expect(hidden).not.toContain('saloon');
    expect(hidden).toContain('car-1');
  });

  it('is markdown too', () => {
    expect(renderMarkdown(carDocument(report))).toContain('voltage while cranking');
    expect(renderMarkdown(dueDocument(dueList('2026-07-01', [due])))).toContain('2026-05-19');
  });
});

describe('all cars', () => {
  it('stand worst first: verdict, then drift, then index, then label', () => {
    const line = (car: string, level: 'stop' | 'watch' | 'sound', low: number, names: string[] = []) => ({
      ...fleetLine(report),
      car,
      level,
      index: { low, high: 100 },
      drifting: names,
    });
    const fleet = fleetReport([
      line('a', 'sound', 90),
      line('b', 'watch', 50),
      line('c', 'watch', 60, ['x']),
      line('d', 'stop', 90),
      line('e', 'watch', 40),
    ]);
    expect(fleet.cars.map(({ car }) => car)).toEqual(['d', 'c', 'e', 'b', 'a']);
    expect(fleetLine(report)).toMatchObject({
      drifting: ['voltage while cranking'],
      first: { date: '2026-09-01' },
      findings: 2,
    });
    const page = fleetPage(fleet);
    expect(page.indexOf('>d<')).toBeLessThan(page.indexOf('>c<'));
    expect(renderMarkdown(fleetDocument(fleet))).toContain('worst first');
  });

  it('name what drifts, the first limit with its month, within 80 columns', () => {
    const lines = ['one', 'two'].map((car) => ({
      ...fleetLine(report),
      car,
      drifting: ['voltage while cranking', 'trim at idle, bank 1'],
    }));
    const shown = renderText(fleetDocument(fleetReport(lines)), { width: 80 });
    expect(shown.replace(/\s+/g, ' ')).toContain('one');
    const cells = renderMarkdown(fleetDocument(fleetReport(lines)));
    expect(cells).toContain('voltage while cranking (limit from 2026-09 on); trim at idle, bank 1');
    expect(Math.max(...shown.split('\n').map((text) => text.length))).toBeLessThanOrEqual(80);
  });

  it('are due in a table, the soonest first; one car is told at length', () => {
    const later = dueFor({ car: 'later', entries: [entry(5, [])], notes: [], asOf: '2026-05-20' });
    const several = renderText(dueDocument(dueList('2026-05-20', [later, due])), { width: 80 });
    expect(several.indexOf(due.car)).toBeLessThan(several.indexOf('later'));
    expect(several).not.toContain('Worth showing');
    expect(Math.max(...several.split('\n').map((text) => text.length))).toBeLessThanOrEqual(80);
    expect(renderText(dueDocument(dueList('2026-05-20', [later])))).toContain('Next recording');
  });
});
