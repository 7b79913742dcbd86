import { describe, expect, it } from 'vitest';
import type { Place } from '../../../src/recording/recording.js';
import { exhaustTemperature } from '../../../src/rules/exhaust/temperature.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  readonly id?: string;
  readonly place?: Place;
  readonly rate?: number;
  readonly more?: Record<string, Signal>;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** 600 degC of cruise that never stands still, and `seconds` of load at `level` from 100 s on. */
const load =
  (level: number, seconds: number) =>
  (t: number): number =>
    (t >= 100 && t < 100 + seconds - 1e-9 ? level : 600) + Math.round(2 * Math.sin(7 * t));

function drive(values: (t: number) => number, wish: Wish = {}) {
  const { id = 'exhaustGasTemperature', rate = 10, more = {}, limits } = wish;
  const place = 'place' in wish ? wish.place : 'before-turbine';
  const signals: Record<string, Signal> = {
    [id]: { values, quality: { rate }, unit: 'degC', ...(place === undefined ? {} : { place }) },
    pedalPosition: { values: (t) => (t >= 95 && t < 125 ? 100 : 5 + (Math.round(t) % 2)), quality: { rate } },
    vehicleSpeed: { values: (t) => (t < 3 ? 0 : 80 + (Math.round(t * rate) % 2)), quality: { rate } },
    engineSpeed: { values: (t) => 3000 + (Math.round(t * rate) % 3), quality: { rate } },
    ...more,
  };
  const vehicle = car(limits === undefined ? {} : { limits });
  return driveOf(clock(300, rate), signals, vehicle);
}
const judged = (values: (t: number) => number, wish?: Wish) => runRule(exhaustTemperature, drive(values, wish));
const told = (values: (t: number) => number, wish?: Wish) => {
  const result = judged(values, wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits by place, exactly on each and one step either side', () => {
  // A class 2 probe is known to 0.75 %, rectangular: a guard of about 7 K at 950 degC.
  it.each([
    ['before-turbine', 950, 'clear', 'watch'],
    ['before-turbine', 1000, 'watch', 'repair'],
    ['before-turbine', 1050, 'repair', 'stop'],
    ['after-turbine', 850, 'clear', 'watch'],
    ['after-turbine', 900, 'watch', 'repair'],
    ['after-turbine', 950, 'repair', 'stop'],
  ] as const)('%s %d degC', (place, limit, at, beyond) => {
    expect(told(load(limit - 5, 20), { place })).toBe(at);
    expect(told(load(limit, 20), { place })).toBe(at);
    expect(told(load(limit + 12, 20), { place })).toBe(beyond);
  });

  it('takes five seconds at the lowest limit, two at the others, and tells what is shorter', () => {
    expect(told(load(970, 4.5))).toBe('clear');
    expect(judged(load(970, 4.5)).summary).toMatch(/beyond that limit for 4\.\d s at most: near the limit/);
    expect(judged(load(900, 4.5)).summary).not.toContain('near the limit');
    expect(told(load(970, 6.5))).toBe('watch');
    expect(told(load(1020, 1.5))).toBe('clear');
    expect(told(load(1020, 2.8))).toBe('repair');
    expect(told(load(1100, 2.8))).toBe('stop');
    expect(told(load(870, 2.8), { place: 'after-turbine' })).toBe('clear');
    expect(told(load(970, 2.8), { place: 'after-turbine' })).toBe('stop');
  });

  it('severity is the limit that was held for its own time', () => {
    // Seven seconds beyond the lowest limit, one of them beyond the highest.
    const peaked = (t: number) => (t >= 103 && t < 104 ? 1100 : load(970, 7)(t));
    expect(told(peaked)).toBe('watch');
    // The seconds of the summary are those beyond the limit it names, not those of the whole event.
    const stop = judged((t) => (t >= 103 && t < 106 ? 1100 : load(970, 9)(t))).summary;
    expect(Number(/ ([\d.]+) s beyond the limit of 1050/.exec(stop)?.[1])).toBeCloseTo(3, 0);
  });

  it("takes the user's limits for their place", () => {
    const limits = { 'exhaust.temperature': { watch: { value: 800, unit: 'degC' } } };
    expect(told(load(830, 20), { limits })).toBe('watch');
  });

  it('says value, limit, place and moment', () => {
    expect(judged(load(1020, 20)).summary).toMatch(
      /^Exhaust gas before the turbine reached 102\d °C at 1:\d\d, [\d.]+ s beyond the limit of 1000 °C\.$/,
    );
  });
});

describe('what must not fool it', () => {
  it('place unknown: not judged, however hot', () => {
    expect(judged(load(1100, 20), { place: undefined as never })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('place of exhaustGasTemperature')] },
    });
  });

  it('a probe of one cylinder stands before the turbine; said, and less sure', () => {
    const one = { id: 'exhaustGasTemperature.cylinder2', place: undefined as never };
    const result = judged(load(980, 20), one);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(JSON.stringify(result)).toContain('single cylinders');
  });

  it('a model: watch at most', () => {
    const model = { id: 'exhaustGasTemperatureModelled' } as const;
    expect(told(load(1150, 20), model)).toBe('watch');
    expect(told(load(980, 20), model)).toBe('clear');
  });

  it('open, stuck and disturbed probes', () => {
    expect(told(() => 1250)).toBe('unproven');
    expect(told((t) => (t > 50 && t < 290 ? 1020 + Math.round(2 * Math.sin(7 * t)) : 600))).toBe('repair');
    expect(told((t) => (t > 20 ? 1020 + Math.round(3 * Math.sin(7 * t)) : 600))).toBe('unproven');
    expect(told((t) => (t > 100 && t < 160 ? 1010 : 600 + Math.round(5 * Math.sin(3 * t))))).toBe('unproven');
    expect(told((t) => (t % 30 < 0.11 ? 1300 : 700 + Math.round(5 * Math.sin(3 * t))))).toBe('clear');
  });

  it('a gap is no heat', () => {
    expect(told((t) => (t > 102 && t < 120 ? Number.NaN : load(960 + 15, 22)(t)))).toBe('clear');
  });
});

describe('what is missing', () => {
  it('no full load: not shown', () => {
    const more = { pedalPosition: { values: (t: number) => 5 + (Math.round(t) % 2), quality: { rate: 10 } } };
    expect(judged(load(650, 20), { more })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('full load')] },
    });
  });

  it('too slow: channel and rate are named', () => {
    expect(judged(load(1020, 7), { rate: 0.25 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['exhaustGasTemperature at >= 1.5 Hz'] },
    });
    // Two samples a limit apart from heat: they tell neither.
    expect(judged(load(1100, 1.9), { rate: 1 }).outcome).toBe('unproven');
  });

  it('the hottest of several drives counts', () => {
    expect(runRule(exhaustTemperature, [drive(load(800, 20)), drive(load(1020, 20))])).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
    });
  });
});

describe('causes follow the evidence', () => {
  const first = (more: Record<string, Signal>) => {
    const result = judged(load(1020, 20), { more });
    return result.outcome === 'finding' ? result.causes?.[0] : '';
  };
  it('lean, or late', () => {
    expect(
      first({ 'lambda.bank1': { values: (t) => (t > 95 ? 1.09 : 1) + 0.001 * (Math.round(t * 10) % 2) } }),
    ).toContain('lean');
    expect(first({ 'knockRetard.cylinder1': { values: (t) => (t > 95 ? 5 : 0) } })).toContain('ignition late');
  });
});
