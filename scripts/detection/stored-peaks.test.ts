import { assess, readProfile } from '@telltale/core';
import { describe, expect, it } from 'vitest';
import { onlyStored, type StoredRule, storedTruth } from '../simulate/faults/stored-peaks.js';
import { carById, type DriveWish, drawDrive, memoryFiles, Plant, Random } from '../simulate/index.js';

// Highest values and counters that a control unit keeps, read out without a drive. What a drive adds stands in the detection run.
const RULES: readonly StoredRule[] = [
  'transmission.over-temperature',
  'engine.cooling',
  'engine.oil-temperature',
  'usage.over-rev',
];
const utf8 = new TextEncoder();

async function judged(wish: DriveWish) {
  const drawn = drawDrive(wish);
  const plant = new Plant();
  drawn.spec.disturb?.(plant);
  const car = typeof drawn.spec.car === 'string' ? carById(drawn.spec.car) : drawn.spec.car;
  const read = memoryFiles(plant.memory, new Random(wish.seed, 32), car.engine.revLimit);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error(profile.faults[0]!.message);
  const { results } = await assess([{ name: 'stored.csv', source: utf8.encode(read.stored) }], {
    only: RULES,
    vehicle: profile.value,
  });
  return RULES.map((rule) => {
    const result = results.find((each) => each.rule === rule)!;
    const found = result.outcome === 'finding' ? (result.severity ?? 'watch') : 'none';
    const truth = storedTruth(rule, plant.memory.peaks, car);
    return { rule, outcome: result.outcome, found, truth, summary: `${wish.seed} ${rule}: ${result.summary}` };
  });
}

it('a healthy memory shows no finding, and is no proof either', async () => {
  for (let seed = 930_001; seed <= 930_080; seed++)
    for (const { outcome, summary, truth } of await judged({ seed })) {
      expect(truth.level, summary).toBe('none');
      expect(['unproven', 'not-applicable'], summary).toContain(outcome);
    }
});

/** Dials with which the fault stands in memory only. */
const dials = (rule: StoredRule, level: 'watch' | 'repair'): number[] =>
  Array.from({ length: 400 }, (_, i) => (i + 0.5) / 400)
    .filter((dial) => onlyStored(rule, level, dial) !== undefined)
    .filter((_, k) => k % 5 === 0);

const cases = RULES.flatMap((rule) => (['watch', 'repair'] as const).map((level) => ({ rule, level }))).filter(
  ({ rule, level }) => dials(rule, level).length > 0,
);

describe('a fault that is stored only', () => {
  it.each(cases)('$rule $level is told as what it is', async ({ rule, level }) => {
    const all = dials(rule, level);
    expect(all.length).toBeGreaterThan(10);
    for (const [i, dial] of all.entries()) {
      const answers = await judged({ seed: 940_000 + i, faults: [{ rule, level, dial }] });
      for (const { found, truth, summary } of answers) if (truth.margin > 0) expect(found, summary).toBe(truth.level);
      expect(answers.find((each) => each.rule === rule)!.truth.level).toBe(level);
    }
  });
});
