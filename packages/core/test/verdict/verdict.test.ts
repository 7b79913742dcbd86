import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Result } from '../../src/engine/assessment.js';
import type { Severity } from '../../src/rules/rule.js';
import {
  coverageOf,
  ESSENTIAL,
  indexOf,
  SOUND_COVERAGE,
  systemVerdicts,
  verdictOf,
  type Weighted,
} from '../../src/verdict/verdict.js';

const clear = (rule: string, confidence = 1): Result => ({
  rule,
  summary: `${rule} clear`,
  outcome: 'clear',
  confidence,
  measures: {},
  events: [],
  limits: [],
});
const finding = (rule: string, severity: Severity, confidence = 1): Result => ({
  rule,
  summary: `${rule} ${severity}`,
  outcome: 'finding',
  severity,
  confidence,
  measures: {},
  events: [],
  limits: [],
  causes: [],
  advice: [],
});
const unproven = (rule: string): Result => ({
  rule,
  summary: `${rule} not shown`,
  outcome: 'unproven',
  missing: { channels: [], conditions: [] },
  proves: '',
});
const failed = (rule: string): Result => ({ rule, summary: '', outcome: 'error', error: 'x' });
const inapplicable = (rule: string): Result => ({ rule, summary: '', outcome: 'not-applicable' });

const weighted = (ids: readonly string[], weight = 1): Weighted[] =>
  ids.map((id) => ({ id, system: id.split('.')[0] as Weighted['system'], weight }));

describe('the level', () => {
  const all = [...ESSENTIAL, 'usage.launches'];
  const rules = weighted(all);

  test('sound needs every essential rule shown', () => {
    expect(
      verdictOf(
        all.map((id) => clear(id)),
        rules,
      ).level,
    ).toBe('sound');
    for (const open of ESSENTIAL) {
      for (const notShown of [unproven, failed]) {
        const results = all.map((id) => (id === open ? notShown(id) : clear(id)));
        expect(verdictOf(results, rules).level, open).toBe('unproven');
      }
      expect(
        verdictOf(
          all.filter((id) => id !== open).map((id) => clear(id)),
          rules,
        ).level,
        `${open} not run`,
      ).toBe('unproven');
    }
  });

  test('sound allows an essential rule that does not apply', () => {
    const results = all.map((id) => (id === 'transmission.over-temperature' ? inapplicable(id) : clear(id)));
    expect(verdictOf(results, rules).level).toBe('sound');
  });

  test('sound needs coverage of at least 0.6, exactly 0.6 included', () => {
    const others = (n: number): string[] => Array.from({ length: n }, (_, i) => `engine.x${i}`);
    const at = [...ESSENTIAL.map((id) => clear(id)), clear('engine.y'), ...others(4).map((id) => unproven(id))];
    const ids = at.map((each) => each.rule);
    expect(coverageOf(at, weighted(ids))).toBe(SOUND_COVERAGE);
    expect(verdictOf(at, weighted(ids)).level).toBe('sound');
    const below = [...at, unproven('engine.z')];
    expect(verdictOf(below, weighted(below.map((each) => each.rule))).level).toBe('unproven');
  });

  test('is the worst severity found, whatever is not shown', () => {
    expect(verdictOf([finding('a.a', 'watch'), unproven('a.b')], weighted(['a.a', 'a.b'])).level).toBe('watch');
    expect(
      verdictOf(
        [finding('a.a', 'watch'), finding('a.b', 'stop'), finding('a.c', 'repair')],
        weighted(['a.a', 'a.b', 'a.c']),
      ).level,
    ).toBe('stop');
  });

  test('of nothing is unproven, with nothing covered and the widest index', () => {
    expect(verdictOf([], [])).toMatchObject({ level: 'unproven', coverage: 0, index: { low: 0, high: 100 } });
    expect(verdictOf([inapplicable('a.a')], weighted(['a.a'])).level).toBe('unproven');
  });
});

describe('the reasons', () => {
  test('name the worst finding first', () => {
    const results = [finding('a.a', 'watch'), finding('a.b', 'repair'), clear('a.c')];
    expect(verdictOf(results, weighted(['a.a', 'a.b', 'a.c'])).reasons).toEqual(['a.b repair', 'a.a watch']);
  });

  test('name what is not shown when nothing is found', () => {
    const reasons = verdictOf([unproven('engine.knock')], weighted(['engine.knock'])).reasons.join(' ');
    expect(reasons).toContain('engine.knock');
    expect(reasons).toContain('0 %');
  });
});

describe('coverage and index', () => {
  test('weigh rules; what does not apply leaves both sides', () => {
    const rules: Weighted[] = [...weighted(['a.a'], 3), ...weighted(['a.b'], 1), ...weighted(['a.c'], 2)];
    expect(coverageOf([clear('a.a'), unproven('a.b'), inapplicable('a.c')], rules)).toBe(3 / 4);
    expect(coverageOf([clear('a.a'), failed('a.b')], rules)).toBe(3 / 4);
  });

  test('the index is a point when all is shown and sure, and widens by what is not', () => {
    const rules = weighted(['a.a', 'a.b']);
    expect(indexOf([clear('a.a'), clear('a.b')], rules)).toEqual({ low: 100, high: 100 });
    expect(indexOf([clear('a.a'), unproven('a.b')], rules)).toEqual({ low: 50, high: 100 });
    expect(indexOf([clear('a.a', 0.8), clear('a.b')], rules)).toEqual({ low: 90, high: 100 });
    expect(indexOf([finding('a.a', 'stop'), finding('a.b', 'stop')], rules)).toEqual({ low: 0, high: 0 });
  });

  const outcome = fc.constantFrom<(id: string) => Result>(
    (id) => clear(id, 0.9),
    (id) => finding(id, 'watch', 0.8),
    (id) => finding(id, 'repair', 0.95),
    (id) => finding(id, 'stop', 0.7),
    unproven,
    failed,
    inapplicable,
  );

  test('stay in their ranges; showing one more rule never widens the index', () => {
    fc.assert(
      fc.property(fc.array(outcome, { minLength: 1, maxLength: 20 }), (makers) => {
        const results = makers.map((make, i) => make(`a.r${i}`));
        const rules = weighted(results.map((each) => each.rule));
        const index = indexOf(results, rules);
        expect(index.low).toBeGreaterThanOrEqual(0);
        expect(index.high).toBeLessThanOrEqual(100);
        expect(index.low).toBeLessThanOrEqual(index.high);
        const shown = results.map((each) => (each.outcome === 'unproven' ? clear(each.rule, 0.9) : each));
        const narrower = indexOf(shown, rules);
        expect(narrower.high - narrower.low).toBeLessThanOrEqual(index.high - index.low + 1e-9);
      }),
    );
  });
});

test('systems are judged apart, in order, and only by their own essentials', () => {
  const results = [
    clear('usage.launches'),
    unproven('engine.knock'),
    finding('fuel.trim', 'watch'),
    inapplicable('transmission.over-temperature'),
  ];
  const rules = weighted(results.map((each) => each.rule));
  expect(systemVerdicts(results, rules)).toEqual([
    { id: 'usage', level: 'sound', coverage: 1 },
    { id: 'engine', level: 'unproven', coverage: 0 },
    { id: 'fuel', level: 'watch', coverage: 1 },
  ]);
});
