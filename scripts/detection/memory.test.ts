import { assess, readProfile } from '@telltale/core';
import { describe, expect, it } from 'vitest';
import { type DriveWish, drawDrive, FAULTS, memoryFiles, Plant, Random, type Simulation } from '../simulate/index.js';

// The rules that read memory only need no drive: many cars in the time of one. The drives stand in the detection run.
const RULES = [
  'codes.stored',
  'codes.monitor-results',
  'provenance.recent-clear',
  'provenance.distance',
  'provenance.calibration',
];
const families = FAULTS.filter(({ rule }) => RULES.includes(rule));
const utf8 = new TextEncoder();

async function judged(wish: DriveWish) {
  const drawn = drawDrive(wish);
  const plant = new Plant();
  drawn.spec.disturb?.(plant);
  const read = memoryFiles(plant.memory, new Random(wish.seed, 32));
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error(profile.faults[0]!.message);
  const { inputs, results } = await assess(
    [
      { name: 'stored.csv', source: utf8.encode(read.stored) },
      { name: 'codes.txt', source: utf8.encode(read.codes) },
    ],
    { only: RULES, vehicle: profile.value },
  );
  expect(inputs.map(({ kind, error }) => [kind, error])).toEqual([
    ['stored-values', undefined],
    ['code-list', undefined],
  ]);
  return families.map(({ rule, truth }) => {
    const result = results.find((each) => each.rule === rule)!;
    const found = result.outcome === 'finding' ? (result.severity ?? 'watch') : 'none';
    return { rule, found, truth: truth({ plant } as Simulation), summary: `${wish.seed} ${rule}: ${result.summary}` };
  });
}

it('healthy memories in every layout show no finding', async () => {
  for (let seed = 900_001; seed <= 900_150; seed++)
    for (const { found, summary, truth } of await judged({ seed })) {
      expect(truth.level, summary).toBe('none');
      expect(found, summary).toBe('none');
    }
});

const cases = families.flatMap(({ rule, levels }) => (['under', ...levels] as const).map((level) => ({ rule, level })));

describe('faults of the memory', () => {
  it.each(cases)('$rule $level is told as what it is', async ({ rule, level }) => {
    for (let i = 0; i < 25; i++) {
      const answers = await judged({ seed: 910_000 + i, faults: [{ rule, level, dial: (i + 0.5) / 25 }] });
      for (const { found, truth, summary } of answers) expect(found, summary).toBe(truth.level);
      expect(answers.find((each) => each.rule === rule)!.truth.level).toBe(level === 'under' ? 'none' : level);
    }
  });
});

const decoys = families.flatMap(({ rule, decoys: named }) => Object.keys(named).map((name) => ({ rule, name })));

describe('decoys of the memory', () => {
  it.each(decoys)('$rule $name shows no finding of its rule', async ({ rule, name }) => {
    for (let i = 0; i < 20; i++) {
      const answers = await judged({ seed: 920_000 + i, decoys: [{ rule, name }] });
      for (const { found, truth, summary } of answers) expect(found, summary).toBe(truth.level);
      expect(answers.find((each) => each.rule === rule)!.found).toBe('none');
    }
  });
});
