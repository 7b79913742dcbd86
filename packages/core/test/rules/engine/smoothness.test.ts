import { describe, expect, it } from 'vitest';
import { smoothness } from '../../../src/rules/engine/smoothness.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** rpm of a sine under part load, and its Hz. */
  readonly jerk?: number;
  readonly frequency?: number;
  /** rpm of a sine always: the road. */
  readonly road?: (t: number) => number;
  readonly rate?: number;
  readonly loads?: number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Cruise at 70 km/h in fourth gear; from 40 s on every 20 s part load for 8 s. */
function drive(wish: Wish = {}) {
  const { jerk = 0, frequency = 5, road = () => 4, rate = 50, loads = 6 } = wish;
  const loaded = (t: number) => t >= 40 && t % 20 < 8 && t < 40 + 20 * loads;
  const speed = (t: number) => 70 + 6 * Math.sin(t / 15);
  const signals: Record<string, Signal> = {
    engineSpeed: {
      values: (t) =>
        30 * speed(t) +
        road(t) * Math.sin(2 * Math.PI * 4.3 * t) +
        (loaded(t) && t % 20 > 0.5 ? jerk * Math.sin(2 * Math.PI * frequency * t) : 0),
      quality: { rate },
    },
    vehicleSpeed: { values: speed, quality: { rate: 10 } },
    pedalPosition: (t) => (t < 1 ? 0 : t > 200 ? 100 : loaded(t) ? 50 : 15),
    gear: (t) => (t < 2 ? 3 : 4),
    engineTorque: (t) => (loaded(t) ? 240 : 80) + 0.1 * (Math.round(t * 7) % 2),
    ...wish.more,
  };
  for (const id of wish.without ?? []) delete signals[id];
  return driveOf(
    clock(195, rate),
    signals,
    car({ engine: { ratedTorque: 400 }, ...(wish.limits === undefined ? {} : { limits: wish.limits }) }),
  );
}
const judged = (wish?: Wish) => runRule(smoothness, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits', () => {
  // Road of 4 rpm: hypot(jerk, 4) / 4 has to pass 3 by its guard of about a sixth.
  it.each([
    [0, 'clear'],
    [8, 'clear'],
    [11.5, 'clear'],
    [17, 'watch'],
    [40, 'watch'],
  ])('%f rpm of jerks over 4 rpm of road', (jerk, outcome) => {
    expect(told({ jerk })).toBe(outcome);
  });

  it('measures swing, ratio and frequency', () => {
    const result = judged({ jerk: 30, frequency: 6 });
    if (result.outcome !== 'finding') throw new Error(result.summary);
    expect(result.measures.amplitude?.value as number).toBeCloseTo(Math.hypot(30, 4), -0.5);
    expect(result.measures.ratio?.value as number).toBeGreaterThan(6.5);
    expect(result.measures.ratio?.value as number).toBeLessThan(8.5);
    expect(Math.abs((result.measures.frequency?.value as number) - 6)).toBeLessThanOrEqual(0.5);
    expect(result.summary).toContain('limit 3');
    expect(result.events).toHaveLength(3);
  });

  it('a swing that is not felt is none, whatever the cruise', () => {
    expect(told({ jerk: 4, road: () => 0.1 })).toBe('clear');
    expect(told({ jerk: 9, road: () => 0.1 })).toBe('watch');
  });

  it('takes the limit of the profile', () => {
    const limits = { 'engine.smoothness': { watch: { value: 12, unit: '1' } } };
    const result = judged({ jerk: 30, limits });
    expect(result).toMatchObject({ outcome: 'clear', limits: [{ name: 'watch', value: 12, source: 'profile' }, {}] });
  });
});

describe('what must not fool it', () => {
  it('a bad road, all the way or in stretches of cruise and load', () => {
    expect(told({ road: () => 25 })).toBe('clear');
    expect(told({ road: (t) => (t % 45 < 15 ? 25 : 3) })).toBe('clear');
  });

  it('jerks of cruise only, and jerks below the band', () => {
    expect(told({ road: (t) => (t % 20 < 8 ? 3 : 20) })).toBe('clear');
    expect(told({ jerk: 30, frequency: 0.8 })).toBe('clear');
  });

  it("the driver's foot: windows with a moving pedal are left out", () => {
    const more: Record<string, Signal> = {
      pedalPosition: (t) => (t % 20 < 8 && t >= 40 ? (Math.round(t) % 2 ? 60 : 30) : 15),
    };
    expect(told({ jerk: 30, more })).toBe('unproven');
  });

  it('shifts: left out', () => {
    const more: Record<string, Signal> = { gear: (t) => (t % 20 < 8 && t >= 40 ? 3 + (Math.round(t) % 2) : 4) };
    expect(told({ jerk: 30, more })).toBe('unproven');
  });
});

describe('what it takes', () => {
  it('names what is missing', () => {
    expect(judged({ without: ['engineSpeed'] })).toMatchObject({ missing: { channels: ['engineSpeed'] } });
    const blind = judged({ without: ['engineTorque'] });
    expect(blind).toMatchObject({ outcome: 'unproven', missing: { channels: ['engineLoad'] } });
    const slow = judged({ jerk: 30, rate: 10 });
    expect(slow).toMatchObject({ outcome: 'unproven', missing: { conditions: ['engineSpeed at >= 25 Hz'] } });
  });

  it('takes three stretches of part load', () => {
    expect(told({ jerk: 30, loads: 2 })).toBe('unproven');
    expect(told({ jerk: 30, loads: 3 })).toBe('watch');
  });

  it('works on clocks whose steps do not add up to the window', () => {
    for (const rate of [25, 30, 47]) expect(told({ jerk: 30, rate }), `${rate} Hz`).toBe('watch');
  });

  it('counts no gap', () => {
    const gaps: Signal = {
      values: (t) => (t % 20 < 8 && t >= 40 && t % 2 < 1 ? Number.NaN : 2100 + 4 * Math.sin(27 * t)),
      quality: { rate: 50 },
    };
    expect(told({ more: { engineSpeed: gaps } })).toBe('unproven');
  });

  it('names misfires first where they were counted', () => {
    const more: Record<string, Signal> = { 'misfireCount.cylinder1': (t) => Math.floor(t / 2) };
    const result = judged({ jerk: 30, more });
    if (result.outcome !== 'finding') throw new Error(result.summary);
    expect(result.causes?.[0]).toContain('fail under load');
  });
});
