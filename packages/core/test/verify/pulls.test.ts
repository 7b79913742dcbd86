import { describe, expect, it } from 'vitest';
import { isRefusal } from '../../src/derived/recipe.js';
import { changeOf, unlikeConditions } from '../../src/verify/change.js';
import { groupsOf } from '../../src/verify/groups.js';
import { type Reading, readPull } from '../../src/verify/measure.js';
import { type Identity, unlikeCars } from '../../src/verify/same-car.js';
import { pullOf } from './helpers.js';

const value = (found: ReturnType<typeof readPull>): Reading => {
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
};

describe('one number of a pull', () => {
  const pull = pullOf({ signals: { x: (t) => t, step: (t) => (t < 3 ? 1 : 0.9), spike: (t) => (t === 2 ? 9 : 1) } });

  it('highest, lowest, mean, rise', () => {
    expect(value(readPull(pull, 'x', { kind: 'highest', seconds: 0 })).value).toBe(6);
    expect(value(readPull(pull, 'x', { kind: 'highest', seconds: 1 })).value).toBeCloseTo(5, 9);
    expect(value(readPull(pull, 'x', { kind: 'lowest', seconds: 1 })).value).toBeCloseTo(1, 9);
    expect(value(readPull(pull, 'x', { kind: 'mean' })).value).toBeCloseTo(3, 9);
    expect(value(readPull(pull, 'x', { kind: 'rise' })).value).toBe(6);
  });

  it('a single stray sample is no held value', () => {
    expect(value(readPull(pull, 'spike', { kind: 'highest', seconds: 0.1 })).value).toBe(1);
  });

  it('over a range of engine speed only', () => {
    const found = value(readPull(pull, 'x', { kind: 'highest', seconds: 0 }, { low: 2300, high: 4400 }));
    expect(found.value).toBeCloseTo(3, 9);
    expect(found.speed).toBeCloseTo(4400, 6);
  });

  it('share of the time below its beginning', () => {
    // From second 1 on: 3 of 5 seconds at 0.9.
    expect(value(readPull(pull, 'step', { kind: 'share-below-start', by: 0.03 })).value).toBeCloseTo(60, 6);
  });

  it('too short a pull, and a quantity that nobody recorded, are refused', () => {
    expect(isRefusal(readPull(pull, 'x', { kind: 'highest', seconds: 7 }))).toBe(true);
    expect(isRefusal(readPull(pull, 'y', { kind: 'mean' }))).toBe(true);
  });
});

describe('like with like', () => {
  const two = (parts: Parameters<typeof pullOf>[0]) => [
    pullOf({ ...parts, side: 'before' }),
    pullOf({ ...parts, side: 'after' }),
  ];

  it('pulls of one gear stand together, by ratio where it is known', () => {
    const groups = groupsOf([
      ...two({ ratio: 45, gear: 3 }),
      ...two({ ratio: 45.5, gear: Number.NaN }),
      ...two({ ratio: 30, gear: 4 }),
    ]);
    expect(groups.map(({ before, after }) => [before.length, after.length])).toEqual([
      [2, 2],
      [1, 1],
    ]);
    expect(groups[0]!.gear).toBe(3);
  });

  it('cold pulls and pulls over another range are left out by name', () => {
    const cold = pullOf({ side: 'after', conditions: { oilTemperature: 45 } });
    const short = pullOf({ side: 'after', speedTo: 3500 });
    const [group] = groupsOf([...two({}), ...two({}), ...two({}), cold, short]);
    expect(group!.after).toHaveLength(3);
    expect(group!.left.get(cold)).toMatch(/45 °C: not warm/);
    expect(group!.left.get(short)).toMatch(/covers 29 %/);
  });

  it('without pulls on both sides there is nothing to compare', () => {
    expect(groupsOf([pullOf({ side: 'after' })])).toEqual([]);
    expect(groupsOf([])).toEqual([]);
  });
});

describe('change', () => {
  const shift = [0.3, -0.2, 0.1, -0.4, 0.25, -0.05];
  const side = (which: 'before' | 'after', base: number, temperature = 25) =>
    shift.map((x, i) =>
      pullOf({
        side: which,
        number: i + 1,
        input: which === 'before' ? 0 : 1,
        signals: { power: () => base + x, boostError: () => x },
        conditions: { chargeTemperature: temperature + i },
      }),
    );

  it('tells one that is there, and none that is not', () => {
    const [group] = groupsOf([...side('before', 300), ...side('after', 302)]);
    const change = changeOf(group!);
    const of = (id: string) => change.endpoints.find((each) => each.id === id)!;
    expect(of('power.mean')).toMatchObject({ primary: true, outcome: 'changed' });
    expect(of('power.mean').difference!.value).toBeCloseTo(2, 9);
    expect(of('boost.error')).toMatchObject({ primary: true, outcome: 'not-distinguishable', adjustedP: 1 });
    expect(of('power.mean').adjustedP).toBeCloseTo(2 * of('power.mean').p!, 12);
    expect(of('power.peak').outcome).toBe('not-tested');
    expect(of('power.mean').detectable).toBeGreaterThan(0.3);
    expect(change.attribution).toBe('map-or-session');
  });

  it('takes a temperature that explains it all out of the difference', () => {
    const hot = (which: 'before' | 'after', from: number) =>
      shift.map((_, i) =>
        pullOf({
          side: which,
          signals: { power: () => 300 - (from + i) },
          conditions: { chargeTemperature: from + i },
        }),
      );
    const [group] = groupsOf([...hot('before', 20), ...hot('after', 22)]);
    const power = changeOf(group!).endpoints.find(({ id }) => id === 'power.mean')!;
    expect(power.difference!.value).toBeCloseTo(-2, 9);
    expect(power.atEqualTemperature!.value).toBeCloseTo(0, 6);
  });

  it('with two pulls a side says too few', () => {
    const [group] = groupsOf([...side('before', 300).slice(0, 2), ...side('after', 310).slice(0, 2)]);
    const power = changeOf(group!).endpoints.find(({ id }) => id === 'power.mean')!;
    expect(power.outcome).toBe('too-few');
    expect(power.difference).toBeUndefined();
  });

  it('says when the weather was another', () => {
    const [group] = groupsOf([...side('before', 300, 20), ...side('after', 300, 31)]);
    expect(unlikeConditions(changeOf(group!))).toEqual([
      'charge air at the start differs by 11 K between before and after',
    ]);
  });
});

describe('one car', () => {
  const identity = (parts: Partial<Identity>): Identity => ({
    side: 'before',
    file: 'a.csv',
    ratios: [120, 75, 50, 38],
    cylinders: 6,
    ethanol: 7,
    ...parts,
  });
  const after = (parts: Partial<Identity>): Identity => identity({ side: 'after', file: 'b.csv', ...parts });

  it('is told by its ratios, whatever gears were driven', () => {
    expect(unlikeCars([identity({}), after({ ratios: [75.6, 50.2] })], undefined)).toEqual([]);
    expect(unlikeCars([identity({}), after({ ratios: [131, 82, 55, 42] })], undefined)).toMatchObject([
      { code: 'different-car', severity: 'refused' },
    ]);
  });

  it('has one number of cylinders', () => {
    expect(unlikeCars([identity({}), after({ cylinders: 4 })], undefined)).toMatchObject([{ severity: 'refused' }]);
    expect(unlikeCars([identity({}), after({ cylinders: Number.NaN })], undefined)).toEqual([]);
    expect(unlikeCars([identity({})], 4)).toMatchObject([{ code: 'profile-disagrees' }]);
  });

  it('was driven on one fuel', () => {
    expect(unlikeCars([identity({}), after({ ethanol: 62 })], undefined)).toMatchObject([
      { code: 'other-fuel', severity: 'warning' },
    ]);
    expect(unlikeCars([identity({}), after({ ethanol: 11 })], undefined)).toEqual([]);
  });
});
