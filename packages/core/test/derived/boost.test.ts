import { expect, it } from 'vitest';
import { BOOST, type Boost } from '../../src/derived/boost.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { clock, driveOf, type Signal } from '../rules/helpers.js';

const time = clock(60, 5);
const boostOf = (signals: Record<string, Signal>) => driveOf(time, signals).derive(BOOST);

it('is absolute pressure less the barometer, the manifold before the charge air', () => {
  const manifold = (t: number) => 40 + 2 * t;
  const both = boostOf({ manifoldPressure: manifold, boostPressure: () => 180, barometricPressure: () => 95 }) as Boost;
  expect(both.source).toBe('manifoldPressure');
  expect(both.values[0]).toBeCloseTo(-55, 9);
  expect(both.values[time.length - 1]).toBeCloseTo(65, 9);
  const charge = boostOf({ boostPressure: (t) => 100 + t, barometricPressure: () => 95 }) as Boost;
  expect(charge.source).toBe('boostPressure');
  expect(charge.values[time.length - 1]).toBeCloseTo(65, 9);
});

it('is less certain without a barometer, and refused without pressure or with a dead sensor', () => {
  const known = boostOf({ manifoldPressure: (t) => 40 + t, barometricPressure: () => 95 }) as Boost;
  const assumed = boostOf({ manifoldPressure: (t) => 40 + t }) as Boost;
  expect(assumed.u).toBeGreaterThan(2 * known.u);
  expect(isRefusal(boostOf({ engineSpeed: (t) => t }))).toBe(true);
  expect(boostOf({ manifoldPressure: () => 100 })).toMatchObject({ missing: { channels: ['manifoldPressure'] } });
});
