import { describe, expect, it } from 'vitest';
import { CARS, drawDrive, FAULTS } from '../simulate/index.js';
import { plan } from './plan.js';

describe('the plan of a detection run', () => {
  const trials = plan(7, 60);

  it('holds every rule at every level, every decoy, and the healthy drives asked for', () => {
    expect(trials.filter(({ purpose }) => purpose === 'healthy')).toHaveLength(60);
    for (const family of FAULTS) {
      for (const level of [...family.levels, 'under'] as const) {
        const injected = trials.filter(({ dialled }) =>
          dialled.some((each) => each.rule === family.rule && each.level === level),
        );
        expect(injected.length, `${family.rule} ${level}`).toBe(8);
      }
      for (const name of Object.keys(family.decoys)) {
        expect(trials.some(({ decoy }) => decoy === `${family.rule}: ${name}`)).toBe(true);
      }
    }
  });

  it('puts together only faults that one car can have', () => {
    for (const { dialled } of trials) {
      const families = FAULTS.filter(({ rule }) => dialled.some((each) => each.rule === rule));
      expect(CARS.some((car) => families.every((family) => family.suits?.(car) ?? true))).toBe(true);
    }
    // And each can be drawn.
    for (const { wish } of trials.slice(0, 80)) expect(drawDrive(wish).seed).toBe(wish.seed);
  });

  it('is healthy drives alone without others, one in three of them thorough', () => {
    const healthy = plan(7, 0, [], 90);
    expect(healthy.map(({ purpose }) => purpose)).toEqual(new Array(90).fill('healthy'));
    const kinds = healthy.map(({ wish }) => drawDrive(wish).kind);
    expect(kinds.filter((kind) => kind === 'thorough').length).toBeGreaterThan(20);
    expect(new Set(kinds).size).toBeGreaterThanOrEqual(9);
  });

  it('is the same for the same seed', () => expect(plan(7, 20)).toEqual(plan(7, 20)));
});
