import { describe, expect, it } from 'vitest';
import { type DecisionInputs, decide } from '../../src/decision/decision.js';
import { readPrices } from '../../src/decision/prices.js';
import { questionAbout } from '../../src/decision/questions.js';
import type { Result, Verdict } from '../../src/engine/assessment.js';
import { RULES } from '../../src/rules/index.js';
import type { Severity } from '../../src/rules/rule.js';
import { SOUND_COVERAGE } from '../../src/verdict/verdict.js';

const finding = (rule: string, severity: Severity, confidence = 0.9): Result => ({
  rule,
  summary: `${rule} ${severity}.`,
  outcome: 'finding',
  severity,
  confidence,
  measures: {},
  events: [],
  limits: [],
});
const verdict = (level: Verdict['level'], coverage = 0.8): Verdict => ({
  level,
  coverage,
  index: { low: 0, high: 100 },
  reasons: ['Not shown: much.'],
});
const decided = (results: readonly Result[], more: Partial<DecisionInputs> = {}) =>
  decide({ verdict: verdict(results.length > 0 ? 'repair' : 'sound'), results, seen: [], ...more });

describe('the decision', () => {
  it('is to buy when nothing was found and enough was shown', () => {
    expect(decided([])).toMatchObject({
      action: 'buy',
      reasons: [expect.stringMatching(/^Nothing was found, and 80 %/)],
    });
  });

  it('is to record more when nothing was found but not enough shown, and says what', () => {
    const more = decided([], { verdict: verdict('unproven') });
    expect(more).toMatchObject({ action: 'record-more', reasons: ['Not shown: much.'] });
  });

  it('is to negotiate with a finding, weightiest first', () => {
    const some = decided([finding('fuel.trim', 'watch'), finding('engine.knock', 'repair')]);
    expect(some.action).toBe('negotiate');
    expect(some.reasons).toEqual(['engine.knock repair.', 'fuel.trim watch.']);
    expect(some.questions.map(({ about }) => about)).toEqual(['engine.knock', 'fuel.trim']);
  });

  it('needs enough shown where there is only something to watch', () => {
    const watch = [finding('fuel.trim', 'watch')];
    expect(decided(watch, { verdict: verdict('watch', SOUND_COVERAGE) }).action).toBe('negotiate');
    expect(decided(watch, { verdict: verdict('watch', SOUND_COVERAGE - 0.01) }).action).toBe('record-more');
  });

  it('warns when a price is argued with little shown', () => {
    const little = decided([finding('engine.knock', 'repair')], { verdict: verdict('repair', 0.3) });
    expect(little.action).toBe('negotiate');
    expect(little.reasons.at(-1)).toMatch(/Only 30 %/);
  });

  it('is to walk away from a stop that is sure, seen or recorded; not from one in doubt', () => {
    expect(decided([finding('engine.oil-pressure', 'stop', 0.5)]).action).toBe('walk-away');
    expect(decided([finding('engine.oil-pressure', 'stop', 0.49)]).action).toBe('negotiate');
    const seen = [{ point: 'body.corrosion', state: 'stop', note: 'hole in the sill' }] as const;
    const rusty = decided([], { seen });
    expect(rusty.action).toBe('walk-away');
    expect(rusty.reasons[0]).toBe('Seen by eye, body.corrosion: hole in the sill');
  });

  it('is to walk away from evidence that was prepared, not from one doubt', () => {
    const one = [finding('provenance.recent-clear', 'repair')];
    expect(decided(one).action).toBe('negotiate');
    const two = decided([...one, finding('provenance.cold-start', 'watch')]);
    expect(two.action).toBe('walk-away');
    expect(two.reasons[0]).toMatch(/cannot be trusted in 2 ways/);
  });

  it('decides nothing from some of the rules', () => {
    expect(decided([], { partial: true }).action).toBe('record-more');
    expect(decided([finding('engine.knock', 'repair')], { partial: true }).action).toBe('record-more');
  });

  it('has a question about every rule', () => {
    expect(RULES.map(({ id }) => id).filter((id) => questionAbout(id) === undefined)).toEqual([]);
  });
});

describe('what the findings justify', () => {
  const list = (text: string) => {
    const read = readPrices(text, 'p');
    if (!read.ok) throw new Error(read.faults[0]!.message);
    return read.value;
  };
  const prices = list(`schema: telltale/prices@1
currency: EUR
prices:
  engine.knock: [300, 4500]
  engine: 1000
  leaks.oil: { low: 50, high: 700 }
`);

  it('is the sum by rule, point or system; a system counts once; what is only to watch may cost nothing', () => {
    const { sum } = decided(
      [
        finding('engine.knock', 'repair'),
        finding('engine.idle', 'watch'),
        finding('engine.breathing', 'repair'),
        finding('fuel.trim', 'watch'),
      ],
      { prices, seen: [{ point: 'leaks.oil', state: 'watch', note: '' }] },
    );
    expect(sum).toEqual({
      low: 1300,
      high: 6200,
      currency: 'EUR',
      items: [
        { about: 'engine.knock', low: 300, high: 4500 },
        { about: 'engine', low: 1000, high: 1000 },
        { about: 'leaks.oil', low: 0, high: 700 },
      ],
      unpriced: ['fuel.trim'],
    });
  });

  it('reads CSV with one amount or two, decimal commas and thousands apart', () => {
    const csv = list('topic;low;high;currency\nengine.knock;1 300;4500,50;CHF\nair;200;;CHF\n');
    expect(csv.currency).toBe('CHF');
    expect([...csv.amounts]).toEqual([
      ['engine.knock', { low: 1300, high: 4500.5 }],
      ['air', { low: 200, high: 200 }],
    ]);
    expect(list('topic,amount,currency\nair,90,USD\n').amounts.get('air')).toEqual({ low: 90, high: 90 });
  });

  it.each([
    ['schema: telltale/prices@1\ncurrency: EUR\nprices:\n  a: 5\n  engine: [9, 3]\n', 5, /low end above/],
    ['schema: telltale/prices@1\ncurrency: EUR\nprices:\n  engine: -1\n', 4, /engine/],
    ['schema: telltale/prices@1\nprices: {}\n', 1, /currency/],
    ['topic,low,high,currency\nengine,cheap,9,EUR\n', 2, /cheap/],
    ['topic,low,high,currency\nengine,1,2,EUR\nair,1,2,CHF\n', 3, /one currency/],
    ['topic,low\nengine,1\n', 1, /expected topic, low, high, currency/],
  ])('tells the line of a fault: %j', (text, line, message) => {
    const read = readPrices(text, 'p');
    expect(read.ok).toBe(false);
    if (read.ok) return;
    expect(read.faults[0]).toMatchObject({ code: 'bad-prices', line });
    expect(read.faults[0]!.message).toMatch(message);
  });
});
