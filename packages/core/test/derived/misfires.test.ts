import { describe, expect, it } from 'vitest';
import { FIRINGS } from '../../src/derived/firings.js';
import { MISFIRES, type Misfires } from '../../src/derived/misfires.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { sum } from '../../src/math/mean.js';
import { car, clock, driveOf, type Signal } from '../rules/helpers.js';

const time = clock(60, 10);
const SIX = car({ engine: { cylinders: 6 } });

function misfires(signals: Record<string, Signal>, vehicle = SIX): Misfires {
  const found = driveOf(time, { engineSpeed: (t) => 1800 + Math.sin(9 * t), ...signals }, vehicle).derive(MISFIRES);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}
const stairs = (step: number, every: number) => Float64Array.from(time, (t) => step * Math.floor(t / every));

describe('firings', () => {
  it('integrates revolutions: 1800 rpm for 60 s are 1800', () => {
    const found = driveOf(time, { engineSpeed: (t) => 1800 + Math.sin(9 * t) }).derive(FIRINGS);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(sum(found.revolutions) / 1800).toBeCloseTo(1, 3);
    expect(found.wanted.every((x) => x === 1)).toBe(true);
  });

  it('leaves out a cut and the second after it, and says why', () => {
    const found = driveOf(time, {
      engineSpeed: (t) => 1800 + Math.sin(9 * t),
      fuelCut: (t) => (t >= 20 && t <= 25 ? 1 : 0),
    }).derive(FIRINGS);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found.left).toEqual(['fuel cut']);
    expect(found.wanted[100]).toBe(1);
    for (const t of [20, 25, 26]) expect(found.wanted[10 * t]).toBe(0);
    expect(found.wanted[280]).toBe(1);
  });
});

describe('misfires', () => {
  const each = Object.fromEntries(
    [1, 2, 3, 4, 5, 6].map((c) => [`misfireCount.cylinder${c}`, stairs(c === 4 ? 2 : 0, 5)]),
  );

  it('counts steps per cylinder', () => {
    const found = misfires(each);
    expect(found).toMatchObject({ basis: 'cylinders', cylinders: 6, assumed: false, silent: false });
    expect(found.columns.map(({ cylinder, count }) => [cylinder, count])).toContainEqual([4, 24]);
    expect(sum(found.added)).toBe(24);
  });

  it('prefers the total to an incomplete set of cylinders, and banks to nothing', () => {
    const { 'misfireCount.cylinder4': four } = each;
    expect(misfires({ 'misfireCount.cylinder4': four!, misfireCount: stairs(3, 5) })).toMatchObject({
      basis: 'engine',
    });
    const banks = misfires({ 'misfireCount.bank1': stairs(1, 5), 'misfireCount.bank2': stairs(2, 5) });
    expect(banks.basis).toBe('banks');
    expect(sum(banks.added)).toBe(36);
  });

  it('a heading that says average is none of today', () => {
    const named = driveOf(time, { engineSpeed: (t) => 1800 + Math.sin(9 * t), ...each }, SIX);
    const renamed = {
      ...named,
      family: (base: string) =>
        named.family(base).map((channel) => ({ ...channel, source: `Misfire_average ${channel.id}` })),
      derive: named.derive.bind(named),
    };
    expect(isRefusal(MISFIRES.compute(renamed))).toBe(true);
  });

  it('zero all day is silent, not refused', () => {
    const zero = Object.fromEntries([1, 2, 3, 4, 5, 6].map((c) => [`misfireCount.cylinder${c}`, stairs(0, 5)]));
    expect(misfires(zero)).toMatchObject({ silent: true });
  });
});
