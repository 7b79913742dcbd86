import { describe, expect, it } from 'vitest';
import { protection } from '../../../src/rules/engine/protection.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** Share of the demand that is missing, by seconds since the pull began and its number. */
  readonly missing?: (s: number, pull: number) => number;
  readonly pulls?: number;
  readonly demand?: number;
  readonly rate?: number;
  readonly oil?: number;
  readonly rpm?: (s: number) => number;
  readonly rated?: number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Cruise with full-load pulls of 5 s every 25 s. */
function drive(wish: Wish = {}) {
  const {
    missing = () => 0,
    pulls = 3,
    demand = 400,
    rate = 10,
    oil = 90,
    rpm = (s) => 2200 + 600 * s,
    rated = 400,
    more = {},
    without = [],
    limits,
  } = wish;
  const since = (t: number) => {
    const s = t < 20 ? -1 : (t - 20) % 25;
    return s >= 0 && s < 5 && t < 20 + 25 * pulls ? s : -1;
  };
  const number = (t: number) => Math.floor((t - 20) / 25) + 1;
  const tick = (t: number) => Math.round(t * 7) % 3;
  const wheel = (t: number) => (since(t) < 0 ? 70 + (Math.round(t) % 2) : 70 + 10 * since(t));
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (since(t) < 0 ? 2100 + tick(t) : rpm(since(t))),
    vehicleSpeed: wheel,
    'wheelSpeed.frontLeft': wheel,
    'wheelSpeed.frontRight': wheel,
    'wheelSpeed.rearLeft': wheel,
    'wheelSpeed.rearRight': wheel,
    pedalPosition: { values: (t) => (since(t) < 0 ? 15 + tick(t) : 100), quality: { rate } },
    gear: { values: () => 3, quality: { rate } },
    engineOilTemperature: { values: () => oil, quality: { rate: 1 } },
    engineTorqueTarget: { values: (t) => (since(t) < 0 ? 80 + tick(t) : demand), quality: { rate, quantum: 0.5 } },
    engineTorque: {
      values: (t) =>
        since(t) < 0 ? 80 + tick(t) : demand * (1 - missing(since(t), number(t))) * Math.min(1, 0.4 + since(t)),
      quality: { rate, quantum: 0.5 },
    },
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(
    clock(20 + 25 * pulls + 10, rate),
    signals,
    car({ engine: { ratedTorque: rated }, ...(limits ? { limits } : {}) }),
  );
}
const judged = (wish?: Wish) => runRule(protection, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
const once = (share: number) => (_s: number, pull: number) => (pull === 1 ? share : 0);

describe('limits, exactly on each and one step either side', () => {
  // Both channels come from one control unit: a guard band of 3.3 points.
  it.each([
    [0, 'clear'],
    [0.1, 'clear'],
    [0.12, 'clear'],
    [0.14, 'watch'],
    [0.5, 'watch'],
  ])('%f of the demand missing in one pull', (share, outcome) => {
    expect(told({ missing: once(share) })).toBe(outcome);
  });

  it('again and again is more than once', () => {
    expect(told({ missing: () => 0.2 })).toBe('repair');
    expect(judged({ missing: () => 0.2 }).summary).toContain('3 times');
  });

  // The channel tells torque within 5 %: a guard band of 8.2 % of the reading.
  it.each([
    [0.86, 'clear'],
    [0.8, 'clear'],
    [0.77, 'repair'],
    [0.5, 'repair'],
  ])('demand and torque both end at %f of the rating', (share, outcome) => {
    expect(told({ demand: 400 * share })).toBe(outcome);
    // Two stretches show no ceiling.
    expect(told({ demand: 400 * share, pulls: 2 })).toBe('clear');
  });

  it('flags of the control unit', () => {
    const flag = { limpMode: { values: (t: number) => (t > 60 ? 1 : 0), quality: { rate: 10 } } };
    expect(told({ more: flag })).toBe('repair');
    const limiter = {
      torqueLimiterActive: { values: (t: number) => (t > 22 && t < 24.5 ? 1 : 0), quality: { rate: 10 } },
    };
    expect(told({ more: limiter })).toBe('watch');
    const cruising = {
      torqueLimiterActive: { values: (t: number) => (t > 5 && t < 15 ? 1 : 0), quality: { rate: 10 } },
    };
    expect(told({ more: cruising })).toBe('clear');
  });

  it('takes the limits of the profile', () => {
    const limits = { 'engine.protection': { deficit: { value: 0.3, unit: '1' } } };
    expect(told({ missing: () => 0.2, limits })).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('the boost that is still building up, a second too short, a cut', () => {
    expect(told({ missing: (s) => (s < 1.4 ? 0.6 : 0) })).toBe('clear');
    expect(told({ missing: (s) => (s > 2 && s < 2.8 ? 0.6 : 0) })).toBe('clear');
    expect(told({ missing: (s) => (s > 2 && s < 3.5 ? 1.2 : 0) })).toBe('clear');
  });

  it('a large turbocharger that takes four seconds, and one that an engine speed is too low for', () => {
    const slow = (s: number) => Math.max(0, 0.6 - 0.17 * s);
    expect(told({ missing: slow, pulls: 5 })).toBe('clear');
    expect(judged({ missing: slow })).toMatchObject({ measures: { shortfalls: { value: 0 } } });
    // Lifted before the boost had come.
    expect(told({ missing: (s) => 0.8 - 0.1 * s })).not.toBe('repair');
    // Lugging: the boost never comes, however long it is asked for.
    expect(told({ missing: () => 0.4, rpm: (s) => 1600 + 100 * s, rated: 200 })).toBe('unproven');
  });

  it('but not torque that is held back from the start, falls away, or stands at a ceiling that the demand meets at last', () => {
    expect(told({ missing: () => 0.25 })).toBe('repair');
    expect(told({ missing: (s) => (s > 3 ? 0.3 : 0) })).toBe('repair');
    const wanted = (t: number) => {
      const s = t < 20 || t >= 95 ? -1 : (t - 20) % 25;
      return s < 0 || s >= 5 ? 80 + (Math.round(t * 7) % 3) : 400 - 30 * s;
    };
    const given = (t: number) => Math.min(260, wanted(t));
    const more = {
      engineTorqueTarget: { values: wanted, quality: { rate: 10, quantum: 0.5 } },
      engineTorque: { values: given, quality: { rate: 10, quantum: 0.5 } },
    };
    expect(told({ more, rated: 250 })).toBe('repair');
  });

  it('air and road load that tell more than the control unit: its own torque is what is named', () => {
    const since = (t: number) => (t < 20 || t >= 95 ? -1 : (t - 20) % 25);
    const air = (t: number) => (since(t) >= 0 && since(t) < 5 ? 400 * Math.min(1, 0.4 + since(t)) : 80);
    const result = runRule(protection, drive({ more: { airMassFlow: (t: number) => air(t) * 0.6 } }));
    expect(result).toMatchObject({ measures: { torque: { value: 400 }, ofRated: { value: 1 } } });
  });

  it('shifts and traction control', () => {
    const gear = { gear: { values: (t: number) => (t < 23.5 ? 3 : 4), quality: { rate: 10 } } };
    expect(told({ missing: (s, pull) => (pull === 1 && s > 3.2 && s < 4.4 ? 0.5 : 0), more: gear })).toBe('clear');
    const traction = {
      tractionControlActive: { values: (t: number) => (t > 22 && t < 24 ? 1 : 0), quality: { rate: 10 } },
    };
    expect(told({ missing: (s, pull) => (pull === 1 && s > 2 && s < 4 ? 0.5 : 0), more: traction })).toBe('clear');
  });

  it('traction control that nothing shows', () => {
    const wheels = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'].map((name) => `wheelSpeed.${name}`);
    expect(judged({ missing: () => 0.3, without: wheels })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['wheelSpeed'] },
    });
    // An axle that turns 6 % faster than the other is held by it.
    const spinning = Object.fromEntries(
      ['rearLeft', 'rearRight'].map((name) => [
        `wheelSpeed.${name}`,
        (t: number) =>
          (t >= 20 && (t - 20) % 25 < 5 ? 1.06 : 1) * (t < 20 || (t - 20) % 25 >= 5 ? 70 : 70 + 10 * ((t - 20) % 25)),
      ]),
    );
    expect(told({ missing: () => 0.3, more: spinning })).not.toBe('repair');
  });

  it('a driving mode that holds back: nothing was refused, so the ceiling is less sure, and the mode is told', () => {
    const sure = (wish: Wish) => {
      const result = judged(wish);
      return result.outcome === 'finding' ? result.confidence : 0;
    };
    const gentle = judged({ demand: 280 });
    expect(JSON.stringify(gentle)).toContain('a driving mode that holds back');
    expect(sure({ demand: 280 })).toBeLessThan(0.85 * sure({ demand: 280, missing: once(0.3) }));
    expect(JSON.stringify(judged({ demand: 400, missing: () => 0.3 }))).not.toContain('gave what was demanded');
  });

  it('cold oil', () => {
    expect(told({ missing: () => 0.3, oil: 45 })).toBe('unproven');
  });
});

describe('what is missing', () => {
  it('names channels, load', () => {
    expect(judged({ without: ['engineTorqueTarget'], pulls: 2 })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineTorqueTarget', 'engineTorque'] },
    });
    expect(judged({ pulls: 0 })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: [], conditions: [expect.stringContaining('full pedal')] },
    });
    expect(judged({ without: ['pedalPosition'] })).toMatchObject({ outcome: 'unproven' });
  });

  it('three stretches against the rating are enough without a demand', () => {
    expect(told({ without: ['engineTorqueTarget'] })).toBe('clear');
  });
});
