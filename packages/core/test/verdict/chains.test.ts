import { describe, expect, it } from 'vitest';
import type { Result } from '../../src/engine/assessment.js';
import { chainBlocks } from '../../src/report/chain-blocks.js';
import { RULES } from '../../src/rules/index.js';
import { chainsOf } from '../../src/verdict/chains.js';

type Measures = Readonly<Record<string, number>>;
const result = (outcome: 'clear' | 'finding', rule: string, measures: Measures = {}): Result => ({
  rule,
  summary: '',
  outcome,
  ...(outcome === 'finding' ? { severity: 'repair', causes: [], advice: [] } : {}),
  confidence: 0.9,
  measures: Object.fromEntries(Object.entries(measures).map(([name, value]) => [name, { value }])),
  events: [],
  limits: [],
});
const found = (rule: string, measures: Measures = {}) => result('finding', rule, measures);
const clear = (rule: string, measures: Measures = {}) => result('clear', rule, measures);
const suspects = (...results: Result[]) => chainsOf(results)[0]?.suspects.map(({ cause }) => cause) ?? [];
const tests = (...results: Result[]) => chainsOf(results)[0]?.tests.map(({ test }) => test) ?? [];
const trim = (idle: number, load: number, more: Measures = {}) =>
  found('fuel.trim', { 'idle.bank1': idle, 'cruise.bank1': (idle + load) / 2, 'load.bank1': load, ...more });

describe('the chain of the mixture', () => {
  it('is absent when nothing was found, whatever is clear', () => {
    expect(chainsOf([])).toEqual([]);
    // Lean alike everywhere, and explained: clear, whatever the figures are.
    expect(chainsOf([clear('fuel.trim', { 'idle.bank1': 24, 'load.bank1': 25 })])).toEqual([]);
    expect(
      chainsOf([
        clear('fuel.trim', { 'idle.bank1': 2, 'load.bank1': 3 }),
        clear('fuel.rail-pressure', { 'rail.below': 2 }),
      ]),
    ).toEqual([]);
  });

  it.each([
    ['lean at idle only', [trim(16, 2)], 'air drawn in behind'],
    ['lean growing with air flow, pressure holds', [trim(2, 17), clear('fuel.rail-pressure')], 'air meter reads low'],
    [
      'feed sags before the rail',
      [trim(2, 17), found('fuel.rail-pressure', { 'rail.below': 17, feedBefore: 14 })],
      'tank side',
    ],
    [
      'rail falls while the feed holds',
      [trim(2, 17), found('fuel.rail-pressure', { 'rail.below': 17, feedBefore: 1 })],
      'high-pressure pump',
    ],
    ['one bank only', [trim(12, 12, { 'idle.bank2': 1, 'load.bank2': 1, 'idle.bankDifference': 11 })], 'of one bank'],
    [
      'one bank, and a slow sensor',
      [trim(12, 12, { 'idle.bankDifference': 11 }), found('fuel.lambda-sensor')],
      'lambda sensor',
    ],
    [
      'rich under boost, target missed, duty high',
      [trim(-1, -13), found('air.boost-control'), found('air.turbo-health')],
      'charge air escapes',
    ],
    [
      'injectors at their end, pressure holds',
      [found('fuel.injector-duty'), found('fuel.lambda-load', { excess: 0.08 }), clear('fuel.rail-pressure')],
      'injectors at their end',
    ],
    ['rich alike everywhere', [trim(-12, -11)], 'too much fuel pressure'],
    ['lean alike everywhere', [trim(13, 12)], 'more ethanol'],
    ['the purge valve moves it', [trim(-11, -1), found('fuel.purge')], 'tank ventilation'],
    ['rich until the oil is hot', [trim(-11, -1), found('engine.oil-dilution')], 'fuel in the engine oil'],
  ] as const)('%s: %#', (_, results, first) => {
    expect(suspects(...results)[0]).toContain(first);
  });

  it('lets one finding speak against a suspect', () => {
    const leanAtLoad = trim(2, 17);
    expect(suspects(leanAtLoad)).toContain('tank side of the fuel supply: pump, its voltage, filter');
    expect(suspects(leanAtLoad, clear('fuel.rail-pressure')).join()).not.toContain('tank side');
    const chain = chainsOf([leanAtLoad, found('fuel.rail-pressure', { 'rail.below': 17, feedBefore: 14 })])[0]!;
    const meter = chain.suspects.find(({ cause }) => cause.startsWith('air meter'));
    expect(meter).toBeUndefined();
  });

  it('puts cheap tests before dear ones, each once', () => {
    const list = tests(trim(2, 17), found('fuel.lambda-load', { excess: 0.08 }), found('fuel.injector-duty'));
    expect(new Set(list).size).toBe(list.length);
    const record = list.findIndex((each) => each.includes('rail pressure, feed pressure'));
    const voltage = list.findIndex((each) => each.startsWith('Supply voltage'));
    const flow = list.findIndex((each) => each.startsWith('Flow test'));
    expect(record).toBeGreaterThanOrEqual(0);
    expect(voltage).toBeGreaterThan(record);
    expect(flow).toBeGreaterThan(voltage);
  });

  it('names rules that exist, or are to come with the air rules, and is shown', () => {
    const chains = chainsOf([
      trim(2, 17),
      found('fuel.rail-pressure', { 'rail.below': 17, feedBefore: 14 }),
      found('fuel.injector-duty'),
    ]);
    const known = new Set(RULES.map(({ id }) => id));
    for (const { suspects: each } of chains)
      for (const { signs } of each) for (const { rule } of signs) expect(known.has(rule), rule).toBe(true);
    const text = JSON.stringify(chainBlocks({ chains } as unknown as Parameters<typeof chainBlocks>[0]));
    expect(text).toContain('Which part is it?');
    expect(text).toContain('feed pressure sags, before the rail pressure');
    expect(chainBlocks({} as Parameters<typeof chainBlocks>[0])).toEqual([]);
  });
});
