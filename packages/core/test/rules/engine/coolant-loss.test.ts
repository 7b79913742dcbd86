import { describe, expect, it } from 'vitest';
import { coolantLoss } from '../../../src/rules/engine/coolant-loss.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** K by which a bubble swings the reading, and how many come, one every 40 s from 200 s on. */
  readonly size?: number;
  readonly count?: number;
  readonly level?: number;
  readonly seconds?: number;
  readonly rate?: number;
  /** Coolant at the start, degC. */
  readonly start?: number;
  readonly pedal?: (t: number) => number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Steady cruise with regulated coolant. */
function drive(wish: Wish = {}) {
  const {
    size = 0,
    count = 3,
    level = 92,
    seconds = 600,
    rate = 2,
    start = level,
    pedal = () => 20,
    more = {},
    without = [],
    limits,
  } = wish;
  const bubble = (t: number) => {
    const k = Math.floor((t - 200) / 40);
    if (t < 200 || k >= count) return 0;
    const s = (t - 200) % 40;
    return size * Math.max(0, Math.min(s / 4, (30 - s) / 26));
  };
  const warm = (t: number) => level - (level - start) * Math.max(0, 1 - t / 150);
  const signals: Record<string, Signal> = {
    coolantTemperature: {
      values: (t) => warm(t) + bubble(t) + 0.1 * (Math.round(t) % 2),
      quality: { rate, quantum: 0.1 },
    },
    engineSpeed: (t) => 2200 + (Math.round(t * 3) % 5),
    vehicleSpeed: (t) => 90 + (Math.round(t) % 3),
    pedalPosition: { values: (t) => (t < 10 ? 0 : t < 12 ? 100 : pedal(t) + (Math.round(t) % 2)), quality: { rate } },
    engineTorque: {
      values: (t) => ((t > 20 && t < 60) || (t > 420 && t < 460) ? 320 : 60) + (Math.round(t) % 3),
      quality: { rate },
    },
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(seconds, rate), signals, car({ engine: { ratedTorque: 400 }, ...(limits ? { limits } : {}) }));
}
const judged = (wish?: Wish) => runRule(coolantLoss, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  it.each([
    [0, 'clear'],
    [3.9, 'clear'],
    [6, 'watch'],
    [12, 'watch'],
  ])('three swings of %f K', (size, outcome) => {
    expect(told({ size })).toBe(outcome);
  });

  it('two swings are none, three are some', () => {
    expect(told({ size: 8, count: 2 })).toBe('clear');
    expect(told({ size: 8, count: 3 })).toBe('watch');
    expect(judged({ size: 8, count: 5 })).toMatchObject({ measures: { swings: { value: 5 } } });
  });

  it('a low level, or pressure that rises with the load, makes it a repair; heat a reason to stop', () => {
    const low = { coolantLevelWarning: { values: () => 1, quality: { rate: 1 } } };
    expect(told({ size: 8, more: low })).toBe('repair');
    const pressed = (kPa: number) => ({
      coolantPressure: {
        values: (t: number) =>
          1 + (((t > 20 && t < 60) || (t > 420 && t < 460) ? kPa : 0) + 0.2 * (Math.round(t) % 2)) / 100,
        quality: { rate: 2 },
      },
    });
    expect(told({ size: 8, more: pressed(14) })).toBe('watch');
    expect(told({ size: 8, more: pressed(24) })).toBe('repair');
    expect(told({ size: 8, level: 112, more: low })).toBe('stop');
    // Without swings neither is a finding of this rule; the reader is told.
    expect(told({ more: low })).toBe('clear');
    expect(JSON.stringify(judged({ more: low }))).toContain('level was told to be low');
  });

  it('takes the limits of the profile', () => {
    const limits = { 'engine.coolant-loss': { swing: { value: 15, unit: 'K' } } };
    expect(told({ size: 10, limits })).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('the first opening of the thermostat', () => {
    const opening = {
      coolantTemperature: {
        values: (t: number) =>
          (t < 150
            ? 20 + 0.5 * t
            : 92 - (t < 230 && Math.floor(t / 20) % 2 === 0 ? 7 * Math.min(1, (t % 20) / 5) : 0)) +
          0.1 * (Math.round(t) % 2),
        quality: { rate: 2, quantum: 0.1 },
      },
    };
    expect(told({ more: opening })).toBe('clear');
  });

  it('a coolant that really heats up, and cools down again', () => {
    const heat = (t: number) => 92 + 30 * Math.max(0, Math.min((t - 250) / 40, 1, (420 - t) / 40));
    const more = {
      coolantTemperature: {
        values: (t: number) => heat(t) + 0.1 * (Math.round(t) % 2),
        quality: { rate: 2, quantum: 0.1 },
      },
    };
    expect(told({ more })).toBe('clear');
  });

  it('load that changes around the swing', () => {
    // Heat that changes within the twenty seconds before it; a nervous foot alone changes none.
    expect(told({ size: 8, pedal: (t) => (Math.floor(t / 20) % 2 === 0 ? 15 : 70) })).toBe('clear');
    expect(told({ size: 8, pedal: (t) => (Math.floor(t / 5) % 2 === 0 ? 25 : 60) })).toBe('watch');
  });

  it('cold water out of the radiator: a fall, or a rise, that does not come back', () => {
    const moves = (size: number, back: number) => ({
      coolantTemperature: {
        values: (t: number) => {
          const k = Math.floor((t - 200) / 60);
          const s = (t - 200) % 60;
          const down = t < 200 || k > 3 ? 0 : Math.min(s / 5, 1) - Math.max(0, Math.min(1, (s - 8) / back));
          return 92 + size * down + 0.1 * (Math.round(t) % 2);
        },
        quality: { rate: 2, quantum: 0.1 },
      },
    });
    expect(told({ more: moves(-8, 50) })).toBe('clear');
    expect(told({ more: moves(8, 50) })).toBe('clear');
    expect(told({ more: moves(-8, 10) })).toBe('watch');
  });

  it('a stab at the pedal hides no swing, and none is told smaller than it is', () => {
    const result = judged({ size: 12, pedal: (t) => (Math.floor(t) % 17 < 2 ? 90 : 20) });
    expect(result.outcome).toBe('finding');
    expect(
      Math.abs((result as { measures: Record<string, { value: number }> }).measures.largest!.value),
    ).toBeGreaterThan(11);
  });

  it('a wiring step, a slow swing', () => {
    const step = {
      coolantTemperature: {
        values: (t: number) => (t > 200 && Math.floor(t / 20) % 2 === 0 ? 100 : 92) + 0.1 * (Math.round(t) % 2),
        quality: { rate: 2, quantum: 0.1 },
      },
    };
    expect(told({ more: step })).toBe('clear');
    const slow = {
      coolantTemperature: {
        values: (t: number) => 92 + 4 * Math.sin(t / 15) + 0.1 * (Math.round(t) % 2),
        quality: { rate: 2, quantum: 0.1 },
      },
    };
    expect(told({ more: slow })).toBe('clear');
  });
});

describe('what is missing', () => {
  it('names channel, rate and time', () => {
    expect(judged({ without: ['coolantTemperature'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['coolantTemperature'] },
    });
    expect(judged({ rate: 0.25 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['coolantTemperature at >= 0.5 Hz'] },
    });
    expect(judged({ seconds: 200 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('300 s')] },
    });
  });

  it('swings of several drives add up', () => {
    expect(runRule(coolantLoss, [drive({ size: 8, count: 2 }), drive({ size: 8, count: 1 })])).toMatchObject({
      severity: 'watch',
    });
  });
});
