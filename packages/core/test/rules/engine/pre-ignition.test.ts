import { describe, expect, it } from 'vitest';
import { preIgnition } from '../../../src/rules/engine/pre-ignition.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** deg by which cylinder 2 jumps at 2 s of each low pull, by number of the pull. */
  readonly jump?: (pull: number) => number;
  /** The same of all other cylinders. */
  readonly others?: number;
  readonly torque?: number;
  readonly rpm?: number;
  readonly rate?: number;
  readonly pulls?: number;
  readonly engine?: Record<string, unknown>;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
}

/** 2 L: 300 N.m are 18.8 bar. Cruise with low pulls of 4 s every 20 s. */
function drive(wish: Wish = {}) {
  const {
    jump = () => 0,
    others = 0,
    torque = 300,
    rpm = 2000,
    rate = 10,
    pulls = 3,
    engine = { displacement: 2, ratedTorque: 400 },
    more = {},
    without = [],
  } = wish;
  const since = (t: number) => {
    const s = t < 20 ? -1 : (t - 20) % 20;
    return s >= 0 && s < 4 && t < 20 + 20 * pulls ? s : -1;
  };
  const number = (t: number) => Math.floor((t - 20) / 20) + 1;
  const late = (t: number, size: number) => (since(t) >= 2 ? Math.max(0, size * (1 - (since(t) - 2) / 3)) : 0);
  const step = (x: number) => Math.round(x * 10) / 10;
  const retard = (size: (t: number) => number): Signal => ({
    values: (t) => step(late(t, size(t)) + 0.1 * (Math.round(t * 3) % 2)),
    quality: { rate, quantum: 0.1 },
  });
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (since(t) < 0 ? 1800 : rpm) + (Math.round(t * 3) % 3),
    vehicleSpeed: (t) => 60 + (Math.round(t) % 2),
    engineTorque: { values: (t) => (since(t) < 0 ? 60 + (Math.round(t * 5) % 3) : torque), quality: { rate } },
    pedalPosition: { values: (t) => (since(t) < 0 ? 15 + (Math.round(t * 3) % 3) : 100), quality: { rate } },
    gear: { values: () => 5, quality: { rate } },
    'knockRetard.cylinder1': retard(() => others),
    'knockRetard.cylinder2': retard((t) => jump(number(t))),
    'knockRetard.cylinder3': retard(() => others),
    'knockRetard.cylinder4': retard(() => others),
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(20 + 20 * pulls + 10, rate), signals, car({ engine }));
}
const judged = (wish?: Wish) => runRule(preIgnition, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
const once = (size: number) => (pull: number) => (pull === 1 ? size : 0);

describe('limits, exactly on each and one step either side', () => {
  it.each([
    [0, 'clear'],
    [5.8, 'clear'],
    [6.4, 'watch'],
    [12, 'watch'],
  ])('one jump of %f deg', (size, outcome) => {
    expect(told({ jump: once(size) })).toBe(outcome);
  });

  it('again is more than once; names the cylinder', () => {
    const result = judged({ jump: () => 9 });
    expect(result).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
      measures: { events: { value: 3 }, cylinders: { value: [2] } },
    });
    expect(result.summary).toContain('cylinder 2');
  });

  it('the others may rise by less than 2 deg', () => {
    expect(told({ jump: once(9), others: 1.7 })).toBe('watch');
    expect(told({ jump: once(9), others: 2.2 })).toBe('clear');
  });

  it('high pressure at low speed only', () => {
    expect(told({ jump: () => 9, torque: 250 })).toBe('unproven');
    expect(told({ jump: () => 9, torque: 260 })).toBe('repair');
    expect(told({ jump: () => 9, rpm: 3200 })).toBe('unproven');
  });

  it('the counter of the control unit', () => {
    const counter = (at: readonly number[], from = 0) => ({
      'preIgnitionCount.cylinder3': {
        values: (t: number) => from + at.filter((x) => t >= x).length,
        quality: { rate: 10 },
      },
    });
    expect(told({ more: counter([]) })).toBe('clear');
    expect(told({ more: counter([22]) })).toBe('watch');
    expect(told({ more: counter([22, 43]) })).toBe('repair');
    const before = judged({ more: counter([], 4) });
    expect(before.outcome).toBe('clear');
    expect(JSON.stringify(before)).toContain('stood at 4');
    // The same event by counter and retard counts once.
    const both = { 'preIgnitionCount.cylinder2': { values: (t: number) => (t >= 22 ? 1 : 0), quality: { rate: 10 } } };
    expect(told({ jump: once(9), more: both })).toBe('watch');
  });

  it('a misfire beside it is a reason to stop', () => {
    const misfires = Object.fromEntries(
      [1, 2, 3, 4].map((c) => [
        `misfireCount.cylinder${c}`,
        { values: (t: number) => (c === 2 && t >= 22.3 ? 1 : 0), quality: { rate: 10 } },
      ]),
    );
    expect(told({ jump: once(9), more: misfires, engine: { displacement: 2, ratedTorque: 400, cylinders: 4 } })).toBe(
      'stop',
    );
  });
});

describe('what must not fool it', () => {
  it('knock of several cylinders, at any size', () => {
    expect(told({ jump: () => 9, others: 7 })).toBe('clear');
  });

  it('slow logs', () => {
    expect(judged({ jump: () => 9, rate: 2 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['knockRetard at >= 5 Hz'] },
    });
  });
});

describe('what is missing', () => {
  it('retard of each cylinder, displacement, load', () => {
    const whole = { without: [1, 2, 3, 4].map((c) => `knockRetard.cylinder${c}`) };
    expect(judged(whole)).toMatchObject({ outcome: 'unproven', missing: { channels: ['knockRetard'] } });
    expect(judged({ engine: {} })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('displacement')] },
    });
    expect(judged({ pulls: 0 })).toMatchObject({ outcome: 'unproven' });
  });
});
