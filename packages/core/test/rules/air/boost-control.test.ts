import { describe, expect, it } from 'vitest';
import { boostControl } from '../../../src/rules/air/boost-control.js';
import { runRule } from '../helpers.js';
import { charge, pullDrive, type Read, type Wish } from './pulls.js';

const target: Read = (s, _p, _t, tick) => (s < 0 ? 100 + 0.1 * tick : 200);
/** `extra` kPa over what a sound control makes. */
const wish = (extra: Read, more: Wish = {}): Wish => ({
  quantum: { boostPressure: 0.1, boostPressureTarget: 0.1 },
  ...more,
  more: {
    boostPressureTarget: target,
    boostPressure: (s, p, t, tick) => charge(s, p, t, tick) + (s < 0 ? 0 : extra(s, p, t, tick)),
    ...more.more,
  },
});
const judged = (extra: Read, more?: Wish) => runRule(boostControl, pullDrive(wish(extra, more)));
const told = (extra: Read, more?: Wish) => {
  const result = judged(extra, more);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
const bump =
  (size: number, pulls = 9): Read =>
  (s, p) =>
    s >= 1.2 && s <= 1.9 && p <= pulls ? size : 0;
const steady =
  (size: number): Read =>
  (s) =>
    s > 2 ? size : 0;
const swing =
  (amplitude: number, hz = 1): Read =>
  (s) =>
    s > 1.5 ? amplitude * Math.sin(2 * Math.PI * hz * s) : 0;

describe('limits, exactly on each and one step either side', () => {
  // Noise and rounding of one pair of channels: a guard band of 1.2 kPa.
  it.each([
    [0, 'clear'],
    [15, 'clear'],
    [16, 'clear'],
    [16.5, 'watch'],
    [30, 'watch'],
    [31, 'watch'],
    [31.5, 'repair'],
  ])('%f kPa of overshoot', (size, outcome) => expect(told(bump(size))).toBe(outcome));

  it('takes two pulls to call it an overshoot', () => expect(told(bump(60, 1))).toBe('clear'));

  it.each([
    [10, 'clear'],
    [11, 'clear'],
    [11.5, 'watch'],
    [21, 'watch'],
    [21.5, 'repair'],
    [-10, 'clear'],
    [-11.5, 'watch'],
    [-21.5, 'repair'],
  ])('%f kPa off the target, settled', (size, outcome) => expect(told(steady(size))).toBe(outcome));

  it.each([
    [8, 'clear'],
    [9, 'clear'],
    [9.6, 'watch'],
    [14, 'watch'],
  ])('swings of %f kPa', (amplitude, outcome) => expect(told(swing(amplitude), { rate: 50 })).toBe(outcome));

  it('does not take swings faster or slower than the band, or of two cycles', () => {
    expect(told(swing(9.8, 0.3), { rate: 50 })).toBe('clear');
    expect(told(swing(12, 5), { rate: 50 })).toBe('clear');
    expect(told((s) => (s > 2 && s < 4 ? 12 * Math.sin(2 * Math.PI * s) : 0), { rate: 50 })).toBe('clear');
  });

  it('reports spool time and speed, and the swing rate', () => {
    const result = judged(swing(14), { rate: 50 });
    if (result.outcome !== 'finding') throw new Error(result.outcome);
    const { measures } = result;
    expect(Number(measures.spoolTime?.value)).toBeCloseTo(1.1, 1);
    expect(Number(measures.spoolSpeed?.value)).toBeCloseTo(2550, -2);
    expect(Number(measures.swingRate?.value)).toBeCloseTo(1, 1);
    expect(Number(measures.swing?.value)).toBeCloseTo(14, 0);
  });

  it('takes the limits of the profile and shows them as the user’s', () => {
    const limits = { 'air.boost-control': { 'steady-watch': { value: 30, unit: 'kPa' } } };
    const result = judged(steady(-18), { vehicle: { limits } });
    if (result.outcome !== 'clear') throw new Error(result.outcome);
    expect(result.limits?.find(({ name }) => name === 'steady-watch')?.source).toBe('profile');
  });

  it('joins the pulls of several drives', () => {
    const drive = (input = 0) => pullDrive(wish(bump(20), { pulls: 1, input }));
    expect(runRule(boostControl, drive()).outcome).toBe('unproven');
    expect(runRule(boostControl, [drive(), drive(1)]).outcome).toBe('finding');
  });
});

describe('what must not fool it', () => {
  it('a target before torque limits, told by throttle or torque', () => {
    const closed = { throttlePosition: ((s, p) => (s < 0 ? 12 : p < 3 && s > 1.5 ? 60 : 86)) as Read };
    expect(told((s, p) => (s > 2 && p < 3 ? -40 : 0), { more: closed })).toBe('clear');
    const torque = { engineTorque: (() => 300) as Read, engineTorqueTarget: (() => 300) as Read };
    const varied = Object.fromEntries(
      Object.keys(torque).map((id) => [id, ((s: number) => (s < 0 ? 80 : 300 + s)) as Read]),
    );
    expect(told(steady(-40), { more: varied })).toBe('unproven');
    expect(told(steady(-40), { without: ['throttlePosition'] })).toBe('unproven');
    expect(judged(steady(-40), { without: ['throttlePosition'] })).toMatchObject({
      missing: { channels: ['throttlePosition'] },
    });
  });

  // Boost 35 kPa under its target from the middle of every pull on, the throttle open, and a model of torque that is its own demand.
  describe('torque that meets its demand', () => {
    const modelled: Read = (s) => (s < 0 ? 80 : 300 + s);
    const torque = { engineTorque: modelled, engineTorqueTarget: modelled };
    const low: (s: number) => number = (s) => (s > 5 ? -35 : 0);
    it('neither hides missing boost nor makes it a finding', () => {
      const result = judged(low, { more: torque });
      expect(result).toMatchObject({ outcome: 'unproven', missing: { channels: ['torqueLimiterActive'] } });
      expect(result.summary).toMatch(/35 kPa under its target .* reported torque met its demand/);
      expect(judged(low)).toMatchObject({ outcome: 'finding', severity: 'repair' });
    });
    it('is not in doubt where the throttle shows the limit, or no boost is missing', () => {
      const closed = { throttlePosition: ((s) => (s < 0 ? 12 : s > 5 ? 60 : 86)) as Read };
      const flagged = { torqueLimiterActive: ((s) => (s > 5 ? 1 : 0)) as Read };
      expect(told(low, { more: { ...torque, ...closed } })).toBe('clear');
      expect(told(low, { more: { ...torque, ...flagged } })).toBe('clear');
      expect(told(() => 0, { more: torque })).toBe('clear');
      expect(told((s) => (s > 4 ? -9 : 0), { more: torque })).toBe('clear');
    });
    it('says no number of settled error that it did not measure', () => {
      const short = judged((s) => (s > 2.5 ? -35 : 0), { more: torque });
      expect(short.outcome).toBe('unproven');
    });
  });

  it('pressure that stands at 255 kPa is no reading', () => {
    const high: Wish = {
      quantum: { boostPressure: 1 },
      more: {
        boostPressureTarget: (s, _p, _t, tick) => (s < 0 ? 100 + 0.1 * tick : 290),
        boostPressure: (s, p, t, tick) => Math.min(255, Math.round(charge(s, p, t, tick) * (s < 0 ? 1 : 1.45))),
      },
    };
    expect(runRule(boostControl, pullDrive(high)).outcome).toBe('unproven');
  });

  it('a target that steps down', () => {
    const stepping: Read = (s) => (s < 0 ? 100 : s > 4 ? 160 : 200);
    expect(
      told((s) => (s > 4 ? -40 * Math.min(1, (s - 4) / 0.8) : 0), { more: { boostPressureTarget: stepping } }),
    ).toBe('clear');
  });

  it('wheels that spin', () => {
    const spun = (s: number): boolean => s > 3 && s < 5;
    const more = { 'wheelSpeed.frontLeft': ((s) => (spun(s) ? 160 : s < 0 ? 67 : 67 + 17 * s)) as Read };
    expect(
      told((s) => (spun(s) ? -30 : 0), { more: { ...more, 'wheelSpeed.frontRight': more['wheelSpeed.frontLeft'] } }),
    ).toBe('clear');
  });

  it('pressure and target of different places are not compared', () => {
    const drive = pullDrive({
      more: { manifoldPressure: (s, p, t, tick) => charge(s, p, t, tick) - 30, boostPressureTarget: target },
      place: { manifoldPressure: 'manifold' },
    });
    expect(runRule(boostControl, drive)).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['boostPressure'] },
    });
    const apart = pullDrive({
      ...wish(steady(30)),
      place: { boostPressure: 'manifold', boostPressureTarget: 'before-throttle' },
    });
    expect(runRule(boostControl, apart).outcome).toBe('unproven');
    // Both told and equal: the names need not match.
    const same = pullDrive({
      more: {
        manifoldPressure: (s, p, t, tick) => charge(s, p, t, tick) + (s > 2 ? 30 : 0),
        boostPressureTarget: target,
      },
      place: { manifoldPressure: 'manifold', boostPressureTarget: 'manifold' },
    });
    expect(runRule(boostControl, same).outcome).toBe('finding');
  });
});

describe('unproven', () => {
  it.each([['boostPressure'], ['boostPressureTarget'], ['pedalPosition']])('without %s', (id) => {
    const result = judged(steady(0), { without: [id] });
    expect(result).toMatchObject({ outcome: 'unproven', missing: { channels: [id] } });
  });

  it('with data too slow for an overshoot, which names channel and rate', () => {
    expect(judged(steady(0), { rate: 5 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['boostPressure at >= 10 Hz'] },
    });
    // A settled error shows at 5 Hz.
    expect(told(steady(-25), { rate: 5 })).toBe('repair');
  });

  it('with a target that is dead', () => {
    expect(told(steady(-30), { more: { boostPressureTarget: () => 0 } })).toBe('unproven');
  });
});
