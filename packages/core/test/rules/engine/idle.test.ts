import { describe, expect, it } from 'vitest';
import { idle } from '../../../src/rules/engine/idle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** Amplitude of the swing, rpm; a sine of amplitude A has a normalised median deviation of 1.048 A. */
  readonly swing?: number;
  readonly frequency?: number;
  readonly off?: number;
  readonly coolant?: number;
  readonly seconds?: number;
  readonly rate?: number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly extra?: (t: number) => number;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

const PER_AMPLITUDE = 1.4826 * Math.SQRT1_2;

/** A minute of driving, then idle. */
function drive(wish: Wish = {}) {
  const {
    swing = 4,
    frequency = 0.7,
    off = 0,
    coolant = 90,
    seconds = 60,
    rate = 10,
    more = {},
    without = [],
    extra = () => 0,
    limits,
  } = wish;
  const moving = (t: number) => t < 60;
  const signals: Record<string, Signal> = {
    engineSpeed: (t) =>
      moving(t)
        ? 2000 + (Math.round(t * 3) % 5)
        : 750 + off + (swing / PER_AMPLITUDE) * Math.sin(2 * Math.PI * frequency * t) + extra(t),
    vehicleSpeed: (t) => (moving(t) ? 60 + (Math.round(t) % 2) : 0),
    pedalPosition: {
      values: (t) => (moving(t) ? 20 + (Math.round(t * 2) % 3) + (t > 30 && t < 31 ? 75 : 0) : 0),
      quality: { rate },
    },
    coolantTemperature: { values: () => coolant, quality: { rate: 1 } },
    idleSpeedTarget: { values: (t) => (moving(t) ? 760 : 750), quality: { rate } },
    selector: { values: () => 0, quality: { rate } },
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(60 + seconds, rate), signals, car(limits === undefined ? {} : { limits }));
}
const judged = (wish?: Wish) => runRule(idle, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  it.each([
    [4, 'clear'],
    [28, 'clear'],
    [30, 'clear'],
    [34, 'watch'],
    [60, 'watch'],
    [66, 'repair'],
  ])('a swing of %f rpm', (swing, outcome) => {
    expect(told({ swing })).toBe(outcome);
  });

  it('measures the swing: 1.048 times the amplitude of a sine', () => {
    const { measures } = judged({ swing: 40 }) as unknown as { measures: Record<string, { value: number }> };
    expect(Math.abs(measures.swing!.value - 40)).toBeLessThan(2.5);
    expect(Math.abs(measures.idleSpeed!.value - 750)).toBeLessThan(5);
  });

  // The tolerance of two speeds, 5 rpm: a guard band of 4.8 rpm and what the swing leaves.
  it.each([
    [45, 'clear'],
    [50, 'clear'],
    [60, 'watch'],
    [-60, 'watch'],
    [100, 'watch'],
    [112, 'repair'],
  ])('%f rpm off the target', (off, outcome) => {
    expect(told({ off })).toBe(outcome);
  });

  it('takes the limits of the profile: big injectors, sharp cams', () => {
    const limits = { 'engine.idle': { watch: { value: 80, unit: 'rpm' }, repair: { value: 150, unit: 'rpm' } } };
    expect(told({ swing: 50, limits })).toBe('clear');
    expect(JSON.stringify(judged({ swing: 50, limits }))).toContain('"source":"profile"');
  });
});

describe('what must not fool it', () => {
  it('load steps, short dips, the first seconds, a cold engine', () => {
    // A compressor that comes in at 20 s and goes at 40 s takes 60 rpm for a second.
    expect(told({ extra: (t) => ((t > 80 && t < 81) || (t > 100 && t < 101) ? -60 : 0) })).toBe('clear');
    expect(told({ extra: (t) => (t > 60 && t < 68 ? 300 : 0) })).toBe('clear');
    expect(told({ swing: 80, coolant: 45 })).toBe('unproven');
  });

  it('selector moved, target moved: two idles, not one that swings', () => {
    const moved = (t: number) => (t < 105 ? 0 : 3);
    const more = {
      selector: { values: moved, quality: { rate: 10 } },
      idleSpeedTarget: { values: (t: number) => (t < 105 ? 750 : 690), quality: { rate: 10 } },
    };
    expect(told({ seconds: 90, more, extra: (t) => (t < 105 ? 0 : -60) })).toBe('clear');
  });
});

describe('what is missing', () => {
  it('names warmth, time, rate; without a target the level is not judged', () => {
    expect(judged({ seconds: 25 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('warm idle')] },
    });
    expect(judged({ rate: 0.5 }).outcome).toBe('unproven');
    expect(judged({ rate: 0.3, seconds: 600 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engineSpeed at >= 0.5 Hz'] },
    });
  });

  it('a slow log takes longer: thirty fresh samples tell the swing at any rate', () => {
    expect(told({ rate: 0.5, seconds: 180, frequency: 0.7 })).toBe('clear');
    expect(told({ rate: 0.5, seconds: 180, frequency: 0.73, swing: 80 })).toBe('repair');
    const blind = judged({ off: 80, without: ['idleSpeedTarget'] });
    expect(blind.outcome).toBe('clear');
    expect(JSON.stringify(blind)).toContain('No idle target recorded');
  });

  it('drives of one car: the worst idle counts', () => {
    expect(runRule(idle, [drive(), drive({ swing: 80 })])).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });
});
