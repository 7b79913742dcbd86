import { describe, expect, it } from 'vitest';
import { camTiming } from '../../../src/rules/engine/cam-timing.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** Degrees off the target, by time. */
  readonly off?: number | ((t: number) => number);
  readonly other?: number;
  readonly oil?: number;
  readonly rpm?: number;
  readonly scale?: number;
  readonly seconds?: number;
  readonly rate?: number;
  readonly stored?: number;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** The target steps every six seconds between four levels. */
function drive(wish: Wish = {}) {
  const {
    off = 0,
    other,
    oil = 90,
    rpm = 2200,
    scale = 1,
    seconds = 90,
    rate = 10,
    stored,
    without = [],
    limits,
  } = wish;
  const target = (t: number) => [10, 25, 35, 18][Math.floor(t / 6) % 4]!;
  const by = (t: number) => (typeof off === 'number' ? off : off(t));
  const tick = (t: number) => 0.1 * (Math.round(t * 5) % 2);
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => rpm + (Math.round(t * 3) % 5),
    engineOilTemperature: { values: () => oil, quality: { rate: 1 } },
    'intakeCamAngle.bank1': { values: (t) => (target(t) + by(t)) * scale + tick(t), quality: { rate, quantum: 0.1 } },
    'intakeCamTarget.bank1': { values: target, quality: { rate, quantum: 0.5 } },
    ...(other === undefined
      ? {}
      : {
          'intakeCamAngle.bank2': {
            values: (t: number) => target(t) + other + tick(t),
            quality: { rate, quantum: 0.1 },
          },
          'intakeCamTarget.bank2': { values: target, quality: { rate, quantum: 0.5 } },
        }),
    ...(stored === undefined ? {} : { 'camOffset.bank1': { values: () => stored, quality: { rate: 1 } } }),
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(seconds, rate), signals, car(limits === undefined ? {} : { limits }));
}
const judged = (wish?: Wish) => runRule(camTiming, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // A sensor of 0.8 deg tolerance: the guard band is 0.76 deg.
  it.each([
    [0, 'clear'],
    [2.9, 'clear'],
    [3, 'clear'],
    [3.9, 'watch'],
    [-3.9, 'watch'],
    [6, 'watch'],
    [6.9, 'repair'],
    [-9, 'repair'],
  ])('%f deg off the target', (off, outcome) => {
    expect(told({ off })).toBe(outcome);
  });

  it.each([
    [2.4, -2.4, 'clear'],
    [2.9, -2.9, 'clear'],
    [2.9, -3.2, 'watch'],
    [4.9, -4.6, 'repair'],
  ])('banks at %f and %f deg', (off, other, outcome) => {
    expect(told({ off, other })).toBe(outcome);
  });

  it.each([
    [4.9, 'clear'],
    [5.9, 'watch'],
    [9, 'repair'],
  ])('stored offset of %f deg', (stored, outcome) => {
    expect(told({ stored })).toBe(outcome);
    expect(told({ stored, without: ['intakeCamAngle.bank1', 'intakeCamTarget.bank1'] })).toBe(outcome);
  });

  it('takes the limits of the profile, and says near', () => {
    const limits = { 'engine.cam-timing': { 'follow-watch': { value: 5, unit: 'deg' } } };
    expect(told({ off: 4, limits })).toBe('clear');
    expect(judged({ off: 3.3 }).summary).toContain('near the limit');
  });
});

describe('what must not fool it', () => {
  it('degrees of the cam beside degrees of the crank, or counted the other way', () => {
    for (const scale of [0.5, 2, -1]) {
      expect(told({ scale })).toBe('clear');
      expect(JSON.stringify(judged({ scale }))).toContain('converted');
    }
  });

  it('hot idle, cold oil, a moving target, a short swing', () => {
    expect(told({ off: 9, rpm: 800 })).toBe('unproven');
    expect(told({ off: 9, oil: 40 })).toBe('unproven');
    expect(told({ off: (t) => (t % 6 < 1 ? 12 : 0) })).toBe('clear');
    expect(told({ off: (t) => (t > 20 && t < 21.5 ? 12 : 0) })).toBe('clear');
    expect(told({ off: (t) => (t % 6 > 1.5 && t > 18 && t < 24 ? 12 : 0) })).toBe('repair');
  });
});

describe('what is missing', () => {
  it('names the channels, the rate, the time', () => {
    expect(judged({ without: ['intakeCamAngle.bank1'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['intakeCamAngle', 'intakeCamTarget'] },
    });
    expect(judged({ without: ['intakeCamTarget.bank1'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['intakeCamTarget'] },
    });
    expect(judged({ rate: 1 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['intakeCamAngle at >= 1.5 Hz'] },
    });
    expect(judged({ seconds: 15 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('still camshaft targets')] },
    });
  });

  it('drives add up', () => {
    expect(runRule(camTiming, [drive({ seconds: 18 }), drive({ seconds: 18 })]).outcome).toBe('clear');
    expect(runRule(camTiming, [drive(), drive({ off: 8 })])).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });
});
