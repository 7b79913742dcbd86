import { describe, expect, it } from 'vitest';
import { octaneLearning } from '../../../src/rules/fuel/octane-learning.js';
import { car, runRule, type Signal } from '../helpers.js';
import { inPull, measure, partsOf, pullDrive } from './fuel-drive.js';

interface Wish {
  /** Stored factor at the end, and by how much it moved. */
  readonly factor?: number | undefined;
  readonly moved?: number;
  /** Live retard at load, deg; learned retard, deg. */
  readonly live?: number;
  readonly learned?: number;
  readonly trims?: number;
  readonly input?: number;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}
function drive({ factor, moved = 0, live, learned, trims, input = 0, limits = {} }: Wish) {
  const signals: Record<string, Signal> = {
    engineTorque: (t) => (inPull(t) < 0 ? 60 : 390) + (Math.round(t * 5) % 3),
    ...(factor === undefined ? {} : { octaneLearning: (t: number) => factor - moved * (t > 50 ? 0 : 1) }),
    ...(live === undefined
      ? {}
      : { knockRetard: (t: number) => (inPull(t) < 0 ? 0 : live) + 0.1 * (Math.round(t * 5) % 2) }),
    ...(learned === undefined
      ? {}
      : { 'knockLearned.cylinder1': () => learned, 'knockLearned.cylinder2': () => learned }),
    ...(trims === undefined ? {} : { 'fuelTrimLong.bank1': () => trims }),
  };
  return pullDrive(signals, { displacement: 2, cylinders: 4, revLimit: 7000, ratedTorque: 400 }, 10, input, { limits });
}
const judged = (wish: Wish) => runRule(octaneLearning, drive(wish));

describe('fuel.octane-learning', () => {
  it.each([
    // Quiet under load, and the factor falls: what falls is better, so 45 is 45 % learned.
    [45, -2, 0.1, 'clear', undefined],
    [56, -2, 0.1, 'finding', 'watch'],
    [86, -2, 0.1, 'finding', 'repair'],
    // Quiet under load, and it rises: 100 is good.
    [86, 2, 0.1, 'clear', undefined],
    [40, 2, 0.1, 'finding', 'watch'],
    // It knocks, and the factor rises: what rises is worse.
    [60, 2, 1.5, 'finding', 'watch'],
  ] as const)('factor %i, moved by %i, live retard %f: %s %s', (factor, moved, live, outcome, severity) => {
    const result = judged({ factor, moved, live });
    expect(result.outcome).toBe(outcome);
    if (result.outcome === 'finding') expect(result.severity).toBe(severity);
  });

  it('tells the ends by the learned retard, and judges that by itself', () => {
    expect(judged({ factor: 98, learned: 0.2 })).toMatchObject({ outcome: 'clear' });
    expect(judged({ factor: 3, learned: 0.2 })).toMatchObject({ outcome: 'clear' });
    expect(judged({ factor: 4, learned: 4 })).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(judged({ learned: 2.5 })).toMatchObject({ outcome: 'clear' });
    const result = judged({ learned: 3.6 });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(Math.abs(measure(result, 'retard') - 3.6)).toBeLessThan(0.1);
  });

  it('is not fooled by polarity or a reset', () => {
    const still = judged({ factor: 95, live: 0.5 });
    expect(still.outcome === 'unproven' && still.summary).toContain('which end');
    const reset = judged({ factor: 100, learned: 4, trims: 0 });
    expect(reset.outcome === 'unproven' && reset.summary).toContain('reset');
    expect(judged({ factor: 100, learned: 4, trims: 2 }).outcome).toBe('finding');
  });

  it('tells a change between drives, takes the profile’s limit, says what is missing', () => {
    const pair = [drive({ factor: 80, moved: -2, live: 0.1 }), drive({ factor: 30, moved: -2, live: 0.1, input: 1 })];
    const result = runRule(octaneLearning, pair);
    expect(result.outcome).toBe('clear');
    expect(partsOf(result).notes).toContain('differs between the drives');
    const limits = { 'fuel.octane-learning': { 'factor-watch': { value: 20, unit: '%' } } };
    const strict = judged({ factor: 30, moved: -2, live: 0.1, limits });
    expect(strict).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(partsOf(strict).limit('factor-watch')).toMatchObject({ value: 20, source: 'profile' });
    const none = runRule(octaneLearning, pullDrive());
    expect(none.outcome === 'unproven' && none.missing.channels).toContain('octaneLearning');
    expect(car().id).toBe('');
  });
});
