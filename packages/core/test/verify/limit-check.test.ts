import { describe, expect, it } from 'vitest';
import { refuse } from '../../src/derived/recipe.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';
import { checkLimit, limitFor, type Measured } from '../../src/verify/limit-check.js';
import type { Reading } from '../../src/verify/measure.js';
import { MEASURES } from '../../src/verify/measures.js';
import type { PullTrace } from '../../src/verify/pull.js';
import { pullOf } from './helpers.js';

const measure = MEASURES.find(({ id }) => id === 'boost.overshoot')!;
const limit = limitFor(measure, UNKNOWN_VEHICLE, undefined)!;
const reading = (value: number, u = 0.01, clipped = false): Reading => ({
  value,
  u,
  at: 1,
  speed: 4000,
  member: '',
  clipped,
});
const measured = (after: readonly Reading[], before: readonly Reading[] = []): Measured =>
  new Map<PullTrace, Reading>([
    ...after.map((each, i) => [pullOf({ side: 'after', number: i + 1 }), each] as const),
    ...before.map((each, i) => [pullOf({ side: 'before', number: i + 1 }), each] as const),
  ]);
const times = (n: number, value: number): Reading[] => Array.from({ length: n }, () => reading(value));

describe('a limit', () => {
  it('is taken from the rule, from the profile, or from the limits file', () => {
    expect(limit).toMatchObject({ value: 15, comparison: '>', unit: 'kPa' });
    const vehicle = {
      ...UNKNOWN_VEHICLE,
      limits: { 'air.boost-control': { 'overshoot-watch': { value: 0.2, unit: 'bar' } } },
    };
    expect(limitFor(measure, vehicle, undefined)).toMatchObject({ value: 20, source: 'profile' });
    expect(limitFor(measure, vehicle, { limits: new Map([['boost.overshoot', 12]]) })).toMatchObject({
      value: 12,
      source: 'limits file',
    });
    expect(limitFor(measure, vehicle, { limits: new Map([['boost.overshoot', null]]) })).toBeUndefined();
  });

  it('every measure with a limit finds it', () => {
    for (const each of MEASURES)
      if (each.limit !== undefined || each.own !== undefined)
        expect(limitFor(each, UNKNOWN_VEHICLE, undefined)?.unit, each.id).toBe(each.unit);
  });

  it('is broken beyond, held below, and open where the measurement cannot tell', () => {
    expect(checkLimit(measure, limit, measured([...times(9, 3), reading(15.1)])).outcome).toBe('broken');
    expect(checkLimit(measure, limit, measured([...times(9, 3), reading(14.9)])).outcome).toBe('held');
    expect(checkLimit(measure, limit, measured([...times(9, 3), reading(15)])).outcome).toBe('not-shown');
    expect(checkLimit(measure, limit, measured([...times(9, 3), reading(15.1, 1)])).outcome).toBe('not-shown');
  });

  it('is held in full from ten pulls only', () => {
    expect(checkLimit(measure, limit, measured(times(9, 3)))).toMatchObject({ outcome: 'held-so-far', pulls: 9 });
    expect(checkLimit(measure, limit, measured(times(10, 3)))).toMatchObject({ outcome: 'held' });
    // 0 of 10: at most 25.9 % (Clopper & Pearson 1934).
    expect(checkLimit(measure, limit, measured(times(10, 3))).rate!.high).toBeCloseTo(0.2589, 4);
  });

  it('at the end of the range of its sensor is not shown', () => {
    const found = checkLimit(measure, limit, measured([...times(9, 3), reading(9, 0.01, true)]));
    expect(found.outcome).toBe('not-shown');
    expect(found.notes.join()).toMatch(/end of its range/);
  });

  it('that no pull shows names what is missing', () => {
    const refused = new Map([
      [pullOf({ side: 'after' }), refuse('no boost target', { channels: ['boostPressureTarget'] })],
    ]);
    const found = checkLimit(measure, limit, refused);
    expect(found).toMatchObject({ outcome: 'not-shown', pulls: 0, missing: { channels: ['boostPressureTarget'] } });
    expect(checkLimit(measure, limit, new Map()).notes).toEqual(['no pull was found']);
  });

  it('broken before and after is set side by side (Newcombe 1998, table II: 9 of 10 less 3 of 10, .1705 to .8090)', () => {
    const after = [...times(9, 20), reading(3)];
    const before = [...times(3, 20), ...times(7, 3)];
    const found = checkLimit(measure, limit, measured(after, before));
    expect(found.before!.change.low).toBeCloseTo(0.1705, 4);
    expect(found.before!.change.high).toBeCloseTo(0.809, 4);
  });
});
