import { describe, expect, it } from 'vitest';
import { FAULTS } from '../simulate/index.js';
import { BORDER } from './borders.js';
import { score } from './score.js';
import { tables } from './table.js';
import { type Report, run } from './trial.js';

// A fixed small sample of `npm run bench:detection`, through the public library from CSV bytes.
const strongest = FAULTS.map((family) => {
  const level = family.levels[family.levels.length - 1]!;
  return { rule: family.rule, level, seed: 31_000 + numberOf(family.rule), border: BORDER[family.rule]! };
});

/** A number of its own for each rule, so that a new rule does not change the drives of the others. */
function numberOf(rule: string): number {
  let sum = 0;
  for (const char of rule) sum = (31 * sum + char.charCodeAt(0)) % 9973;
  return sum;
}

async function found({ rule, level, seed, border }: (typeof strongest)[number]): Promise<void> {
  const wish = { seed, faults: [{ rule, level, dial: 0.7 }] };
  const report = await run({ wish, purpose: 'fault', dialled: [{ rule, level }] }, [rule]);
  expect(report.unusable).toBeUndefined();
  const [answer] = report.answers;
  expect(answer?.rule).toBe(rule);
  // The dial is meant for the level; what the drive really held decides.
  expect(answer?.truth.level, 'truth').not.toBe('none');
  if (answer!.truth.margin > border) expect(answer!.outcome, answer!.summary).toBe('finding');
}

// Drives in which a fault was overlooked once.
const mended = [
  { rule: 'provenance.recording', level: 'repair', seed: 31_867, border: BORDER['provenance.recording']! },
  // Steam at the sensor of a driver whose foot is never still: each stab at the pedal hid a swing.
  { rule: 'engine.coolant-loss', level: 'repair', seed: 31_561, border: BORDER['engine.coolant-loss']! },
] as const;

// A catalyst between its two limits, which lie a factor of two apart.
const aged = { rule: 'exhaust.catalyst', level: 'watch', border: BORDER['exhaust.catalyst']! } as const;

describe('a fixed sample of faults', () => {
  it.each(strongest)('$rule at $level is found', found);
  it.each([88_013, 88_065, 88_078])('an aged catalyst in the drive of seed %i is found', (seed) =>
    found({ ...aged, seed }),
  );
  it.each(mended)('$rule in the drive of seed $seed is found', found);
});

describe('a fixed sample of healthy drives', () => {
  const seeds = [501, 502, 503, 504, 505, 506, 507, 508];
  const reports: Report[] = [];
  it.each(seeds)('seed %i shows no false finding of any rule', async (seed) => {
    const report = await run({ wish: { seed }, purpose: 'healthy', dialled: [] });
    reports.push(report);
    expect(report.unusable).toBeUndefined();
    const wrong = report.answers.filter(({ outcome, truth }) => outcome === 'finding' && truth.level === 'none');
    expect(wrong.map(({ rule, summary }) => `${rule}: ${summary}`)).toEqual([]);
  });

  it('is scored: every rule has its row, and none is false', () => {
    const result = score(reports);
    expect(result.healthyFalse).toEqual({ hits: 0, of: seeds.length });
    expect(result.rules.map(({ rule }) => rule)).toEqual(FAULTS.map(({ rule }) => rule));
    expect(tables(result)).toContain(`0 of ${seeds.length}`);
  });
});
