import { describe, expect, test } from 'vitest';
import { readProfile } from '../../../src/vehicle/profile.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { assessTexts, values } from '../read-outs.js';

const KM = 'Distance since codes cleared';

function said(lines: string): Vehicle {
  const read = readProfile(`schema: telltale/vehicle@1\nclaims: ${lines}\n`, 'vehicle.yaml');
  if (!read.ok) throw new Error(read.faults.map(({ message }) => message).join('; '));
  return read.value;
}

/** What the rule and those that it joins say of the files. */
async function judged(claims: string, texts: readonly string[]) {
  const rules = ['provenance.claims', 'provenance.recent-clear', 'provenance.distance', 'usage.over-rev'];
  const { results } = await assessTexts(rules, texts, said(claims));
  const result = results.find(({ rule }) => rule === 'provenance.claims')!;
  const details = 'details' in result ? (result.details as { claims?: { claim: string; state: string }[] }) : {};
  return {
    result,
    state: (claim: string) => details.claims?.find((each) => each.claim === claim)?.state,
  };
}

const memory = (rows: Record<string, string | number>): string[] => [values(rows)];

test('without a claim the question makes no sense', async () => {
  const { results } = await assessTexts(['provenance.claims'], memory({ Odometer: '80000 km' }));
  expect(results[0]).toMatchObject({ outcome: 'not-applicable' });
});

describe('distance', () => {
  test.each([
    ['80000 km', 80_000, 'not shown'],
    ['80000 km', 81_600, 'not shown'],
    ['80000 km', 81_601, 'contradicted'],
    ['20000 km', 20_500, 'not shown'],
    ['20000 km', 20_501, 'contradicted'],
    ['80000 km', 70_000, 'not shown'],
  ])('%s claimed, %d km read out of one unit: %s', async (claim, km, state) =>
    expect((await judged(`{ distance: ${claim} }`, memory({ Odometer: `${km} km` }))).state('distance')).toBe(state),
  );

  test('is supported when several units agree', async () => {
    const rows = memory({ 'Odometer instrument cluster': '80210 km', 'Odometer engine': '80205 km' });
    expect((await judged('{ distance: 80000 km }', rows)).state('distance')).toBe('supported');
  });
});

describe('launches', () => {
  test.each([
    ['never', 0, 'supported'],
    ['never', 1, 'contradicted'],
    ['4', 4, 'supported'],
    ['4', 5, 'contradicted'],
  ])('%s claimed, %d counted: %s', async (claim, count, state) =>
    expect((await judged(`{ launches: ${claim} }`, memory({ 'Launch count': count }))).state('launches')).toBe(state),
  );

  test('not read out: not shown, with what would show it', async () => {
    const { state, result } = await judged('{ launches: never }', memory({ Odometer: '80000 km' }));
    expect(state('launches')).toBe('not shown');
    expect(result).toMatchObject({ outcome: 'unproven' });
  });
});

describe('codes never cleared', () => {
  test.each([
    [60, 60_000, 'contradicted'],
    [5000, 60_000, 'contradicted'],
    [59_600, 60_000, 'supported'],
    [65_535, 160_000, 'not shown'],
  ])('%d km since, %d km in all: %s', async (since, km, state) =>
    expect(
      (await judged('{ codesCleared: never }', memory({ [KM]: `${since} km`, Odometer: `${km} km` }))).state(
        'codesCleared',
      ),
    ).toBe(state),
  );
});

describe('catalysts', () => {
  test('a code about them contradicts', async () => {
    const { state, result } = await judged('{ catalysts: original }', ['code,status\nP0420,stored\nP0301,stored\n']);
    expect(state('catalysts')).toBe('contradicted');
    expect(result.summary).toContain('P0420');
    expect(result.summary).not.toContain('P0301');
  });
  test('an empty list shows nothing', async () =>
    expect((await judged('{ catalysts: original }', ['code,status\nP0301,stored\n'])).state('catalysts')).toBe(
      'not shown',
    ));
});

describe('use', () => {
  test('that it never was on a circuit cannot be shown', async () =>
    expect((await judged('{ tracked: never }', memory({ Odometer: '80000 km' }))).state('tracked')).toBe('not shown'));
  test('counted over-revs contradict it', async () =>
    expect((await judged('{ tracked: never }', memory({ 'Over-rev count': 3 }))).state('tracked')).toBe(
      'contradicted',
    ));
});

test('claims that nothing answers are listed', async () => {
  const { state, result } = await judged('{ accidents: none, launches: 0 }', memory({ 'Launch count': 0 }));
  expect(state('accidents')).toBe('not judged');
  expect(result).toMatchObject({ outcome: 'clear', measures: { notJudged: { value: 1 }, supported: { value: 1 } } });
});

test('one contradiction is to watch, two are to mend the price', async () => {
  const rows = memory({ 'Launch count': 14, Odometer: '90000 km' });
  expect((await judged('{ launches: never }', rows)).result).toMatchObject({ outcome: 'finding', severity: 'watch' });
  const both = await judged('{ launches: never, distance: 60000 km }', rows);
  expect(both.result).toMatchObject({
    outcome: 'finding',
    severity: 'repair',
    measures: { contradicted: { value: 2 } },
  });
  expect(both.result.summary).toMatch(/said: 60000 km.*90000 km read out/);
});

test.each(['{ launches: often }', '{ coldStart: maybe }', '{ boost: 1.2 }', '{ tracked: yes }'])(
  '%s is refused with its line',
  (lines) => {
    const read = readProfile(`schema: telltale/vehicle@1\nclaims: ${lines}\n`, 'vehicle.yaml');
    expect(read.ok).toBe(false);
    if (!read.ok) expect(read.faults[0]!.line).toBe(2);
  },
);
