import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { BORDER, COMPARED } from '../../../../scripts/detection/borders.js';
import { FAULTS } from '../../../../scripts/simulate/index.js';
import { findChannel } from '../../src/channels/index.js';
import { RULES } from '../../src/rules/index.js';
import type { Rule } from '../../src/rules/rule.js';
import { findUnit } from '../../src/units/index.js';
import { ESSENTIAL } from '../../src/verdict/verdict.js';

const SYSTEMS = [
  'usage',
  'transmission',
  'driveline',
  'engine',
  'fuel',
  'air',
  'exhaust',
  'electrical',
  'codes',
  'provenance',
];
const home = fileURLToPath(new URL('../../src/rules/', import.meta.url));

/** Every exported rule of every file under `rules/<system>/`, by the path of its file. */
const found = await Promise.all(
  readdirSync(home, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .flatMap((entry) => readdirSync(`${home}${entry.name}`).map((file) => `${entry.name}/${file.replace(/\.ts$/, '')}`))
    .map(async (path) => {
      const module: Record<string, unknown> = await import(`${home}${path}.ts`);
      const rules = Object.values(module).filter(
        (each): each is Rule => typeof (each as Rule | undefined)?.observe === 'function',
      );
      return { path, rules };
    }),
).then((files) => files.filter(({ rules }) => rules.length > 0));

test('rules are seen', () => expect(found.length).toBeGreaterThan(3));

test('the registry lists every rule file once, in the order of the systems', () => {
  expect(RULES.map((rule) => rule.id).sort()).toEqual(found.map(({ path }) => path.replace('/', '.')).sort());
  const order = RULES.map((rule) => SYSTEMS.indexOf(rule.system));
  expect(order).toEqual([...order].sort((a, b) => a - b));
});

describe.each(found)('$path', ({ path, rules }) => {
  const rule = rules[0]!;

  test('is one rule, named as its file, frozen', () => {
    expect(rules).toHaveLength(1);
    expect(rule.id).toBe(path.replace('/', '.'));
    expect(rule.id.startsWith(`${rule.system}.`)).toBe(true);
    expect(Object.isFrozen(rule)).toBe(true);
  });

  test('says what it asks, why, how, what must not fool it and what would prove it', () => {
    for (const text of [rule.question, rule.why, rule.method, rule.proves]) expect(text.length).toBeGreaterThan(15);
    expect(rule.question.endsWith('?')).toBe(true);
    expect(rule.decoys.length).toBeGreaterThan(0);
  });

  test('needs channels that the catalogue knows', () => {
    for (const id of [...rule.needs.channels, ...rule.needs.optional]) expect(findChannel(id), id).toBeDefined();
  });

  test('has limits with a known unit and a source, each once a variant', () => {
    expect(rule.limits.length).toBeGreaterThan(0);
    const keys = rule.limits.map((limit) => JSON.stringify([limit.name, limit.when ?? {}]));
    expect(new Set(keys).size).toBe(keys.length);
    for (const limit of rule.limits) {
      expect(findUnit(limit.unit), limit.unit).toBeDefined();
      expect(limit.source.length, limit.name).toBeGreaterThan(5);
    }
  });

  test('comes with injected faults, decoys and its row in the detection table', () => {
    const family = FAULTS.find((each) => each.rule === rule.id);
    expect(family, 'a FaultFamily in scripts/simulate/faults').toBeDefined();
    expect(Object.keys(family!.decoys).length).toBeGreaterThan(0);
    expect(BORDER[rule.id], 'BORDER in scripts/detection/borders.ts').toBeGreaterThan(0);
    expect(COMPARED[rule.id], 'COMPARED in scripts/detection/borders.ts').toBeDefined();
  });
});

test('every essential rule of the verdict exists', () => {
  for (const id of ESSENTIAL)
    expect(
      RULES.some((rule) => rule.id === id),
      id,
    ).toBe(true);
});
