import { describe, expect, it } from 'vitest';
import type { Assessment, Result } from '../../src/engine/assessment.js';
import { joinedMarks } from '../../src/plots/marks.js';
import { plotsOf } from '../../src/plots/plots.js';
import { assessmentPage } from '../../src/report/page/assessment-page.js';
import { RULES } from '../../src/rules/index.js';
import { clock, driveOf } from '../rules/helpers.js';

describe('marks', () => {
  const mark = (from: number, to: number, severity: 'watch' | 'stop' = 'watch', rule = 'engine.knock') => ({
    from,
    to,
    severity,
    rule,
  });

  it('that cannot be told apart become one of the gravest severity; others stay, and rules are not mixed', () => {
    expect(
      joinedMarks([mark(500, 501), mark(10, 11), mark(11.5, 12, 'stop'), mark(11, 12, 'watch', 'fuel.trim')], 800),
    ).toEqual([mark(10, 12, 'stop'), mark(11, 12, 'watch', 'fuel.trim'), mark(500, 501)]);
    expect(joinedMarks([], 10)).toEqual([]);
  });

  it('are no more than a figure can show, however many events there are', () => {
    const many = Array.from({ length: 50_000 }, (_, i) => mark(i / 10, i / 10 + 0.05));
    expect(joinedMarks(many, 5000).length).toBeLessThanOrEqual(800);
  });
});

describe('everything that is drawn of a long recording with every kind of finding', () => {
  const time = clock(3600, 50);
  const wave = (period: number, low: number, high: number) => (t: number) =>
    low + ((high - low) * (1 + Math.sin((2 * Math.PI * t) / period + Math.cos(t)))) / 2;
  const drives = [0, 1].map((input) =>
    driveOf(
      time,
      {
        engineSpeed: { values: wave(17, 800, 6500), unit: 'rpm' },
        vehicleSpeed: { values: wave(61, 0, 180), unit: 'km/h' },
        pedalPosition: { values: wave(7, 0, 100), unit: '%' },
        coolantTemperature: { values: wave(900, 20, 115), unit: 'degC' },
        engineOilTemperature: { values: wave(1100, 20, 140), unit: 'degC' },
        transmissionOilTemperature: { values: wave(700, 20, 131), unit: 'degC' },
        engineOilPressure: { values: wave(11, 0.5, 6), unit: 'bar' },
        systemVoltage: { values: wave(31, 11, 15), unit: 'V' },
        ...Object.fromEntries(
          [1, 2, 3, 4, 5, 6].map((k) => [`knockRetard.cylinder${k}`, { values: wave(k + 2, 0, 6), unit: 'deg' }]),
        ),
      },
      undefined,
      input,
    ),
  );
  const results = RULES.map(
    (rule): Result => ({
      rule: rule.id,
      summary: `Something was found by ${rule.id}, in many places and with a long sentence that says so.`,
      outcome: 'finding',
      severity: 'repair',
      confidence: 0.9,
      measures: {},
      events: Array.from({ length: 3000 }, (_, i) => ({ input: i % 2, from: i, to: i + 2 })),
      limits: [],
      causes: ['one', 'two'],
      advice: ['look', 'measure'],
    }),
  );
  const assessment = {
    schema: 'telltale/assessment@1',
    vehicle: { id: 'x' },
    inputs: [0, 1].map((k) => ({
      file: `${k}.csv`,
      sha256: 'f'.repeat(64),
      kind: 'recording',
      channels: [],
      unrecognised: [],
      problems: [],
    })),
    verdict: { level: 'repair', coverage: 1, index: { low: 40, high: 60 }, reasons: [] },
    systems: [],
    results,
    decision: { action: 'negotiate', reasons: [], questions: [] },
    cautions: [],
  } as unknown as Assessment;

  it('fits into 3 MB, and draws every finding', () => {
    const plots = plotsOf(assessment, drives, RULES);
    expect(plots.evidence).toHaveLength(RULES.length);
    expect(plots.evidence.filter(({ figures }) => figures.length === 0)).toEqual([]);
    const page = assessmentPage(assessment, { rules: RULES, plots, script: 'void 0;' });
    // The script of a report adds 60 kB.
    expect(page.length).toBeLessThan(2_900_000);
  });
});
