import { describe, expect, it } from 'vitest';
import { breathing } from '../../../src/rules/engine/breathing.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** kPa at idle; the barometer stands at 100 kPa. */
  readonly idle?: number;
  readonly crankcase?: number | ((t: number) => number);
  readonly rpm?: number;
  readonly coolant?: number;
  readonly seconds?: number;
  readonly barometer?: number;
  /** kPa on the overrun. */
  readonly overrun?: number;
  readonly rate?: number;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
  readonly more?: Record<string, Signal>;
}

/** Drives for 60 s with one overrun, then idles. */
function drive(wish: Wish = {}) {
  const {
    idle = 33,
    crankcase,
    rpm = 760,
    coolant = 90,
    seconds = 40,
    barometer = 100,
    overrun = 25,
    rate = 10,
    without = [],
    limits,
    more = {},
  } = wish;
  const moving = (t: number) => t < 60;
  const coasting = (t: number) => t >= 50 && t < 56;
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (moving(t) ? 2000 : rpm) + (Math.round(t * 4) % 3),
    vehicleSpeed: (t) => (moving(t) ? 60 + (Math.round(t) % 2) : 0),
    pedalPosition: {
      values: (t) => (moving(t) && !coasting(t) ? 20 + (Math.round(t * 2) % 3) : t === 30 ? 100 : 0),
      quality: { rate },
    },
    manifoldPressure: {
      values: (t) => (coasting(t) ? overrun : moving(t) ? 55 : idle) + 0.2 * (Math.round(t * 5) % 2),
      quality: { rate, quantum: 0.1 },
    },
    barometricPressure: { values: () => barometer, quality: { rate: 1 } },
    coolantTemperature: { values: () => coolant, quality: { rate: 1 } },
    ...(crankcase === undefined
      ? {}
      : {
          crankcasePressure: {
            values:
              typeof crankcase === 'number' ? (t: number) => crankcase - 0.02 * (Math.round(t * 5) % 2) : crankcase,
            quality: { rate, quantum: 0.01 },
          },
        }),
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(60 + seconds, rate), signals, car(limits === undefined ? {} : { limits }));
}
const judged = (wish?: Wish) => runRule(breathing, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // Two sensors of 1.5 and 0.7 kPa: the guard band at 45 kPa is 2.5 kPa.
  it.each([
    [33, 'clear'],
    [45, 'clear'],
    [47, 'clear'],
    [49, 'watch'],
    [55, 'watch'],
    [57, 'watch'],
    [59, 'repair'],
  ])('warm idle on %f kPa', (idle, outcome) => {
    expect(told({ idle })).toBe(outcome);
  });

  it.each([
    [1, 'clear'],
    [2.5, 'clear'],
    [2.6, 'clear'],
    [2.9, 'watch'],
    [5, 'watch'],
    [5.5, 'repair'],
  ])('crankcase at %f kPa', (crankcase, outcome) => {
    expect(told({ crankcase })).toBe(outcome);
  });

  it('tells the worse of both, and both when both are bad', () => {
    const result = judged({ idle: 50, crankcase: 6 });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect((result as { events?: unknown[] }).events).toHaveLength(2);
    expect(result.summary).toMatch(/^Warm idle/);
    expect(judged({ idle: 46 }).summary).toContain('near the limit');
  });

  it('takes the limits of the profile', () => {
    const limits = {
      'engine.breathing': { 'manifold-watch': { value: 0.6, unit: '1' }, 'manifold-repair': { value: 0.7, unit: '1' } },
    };
    expect(told({ idle: 50, limits })).toBe('clear');
    expect(JSON.stringify(judged({ idle: 50, limits }))).toContain('"source":"profile"');
  });
});

describe('what must not fool it', () => {
  it('an engine whose valves meter the air', () => {
    expect(judged({ idle: 92, overrun: 93 })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['crankcasePressure'] },
    });
    expect(told({ idle: 92, overrun: 93, crankcase: 1 })).toBe('clear');
  });

  it('altitude: the share of the barometer counts', () => {
    expect(told({ idle: 44, barometer: 100 })).toBe('clear');
    expect(told({ idle: 44, barometer: 80 })).toBe('watch');
    expect(told({ idle: 30, barometer: 80 })).toBe('clear');
  });

  it('raised idle, cold engine, the first seconds', () => {
    expect(told({ idle: 60, rpm: 1100 })).toBe('unproven');
    expect(told({ idle: 60, coolant: 50 })).toBe('unproven');
    expect(told({ idle: 60, seconds: 15 })).toBe('unproven');
  });

  it('a short breath of the crankcase', () => {
    expect(told({ crankcase: (t) => (t > 40 && t < 41.5 ? 8 : 0.5) })).toBe('clear');
    expect(told({ crankcase: (t) => (t > 40 && t < 43.5 ? 8 : 0.5) })).toBe('repair');
  });
});

describe('what is missing', () => {
  it('names the pressure, or the idle', () => {
    expect(judged({ without: ['manifoldPressure'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['manifoldPressure'] },
    });
    expect(judged({ without: ['coolantTemperature'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['coolantTemperature'] },
    });
    expect(judged({ seconds: 10 })).toMatchObject({ missing: { conditions: [expect.stringContaining('warm idle')] } });
  });

  it('without a barometer standard air is taken, and said', () => {
    const result = judged({ without: ['barometricPressure'], idle: 50 });
    expect(JSON.stringify(result)).toContain('standard air was taken');
    expect(told({ without: ['barometricPressure'], idle: 62 })).not.toBe('clear');
  });

  it('idles of several drives: the worst counts', () => {
    expect(runRule(breathing, [drive(), drive({ idle: 60 })])).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
    });
  });
});
