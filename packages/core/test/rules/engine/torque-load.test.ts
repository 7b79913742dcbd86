import { describe, expect, it } from 'vitest';
import { torqueLoad } from '../../../src/rules/engine/torque-load.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

/** 2 L: 4 pi 100 N.m / 2 L = 6.28 bar; rated 400 N.m = 25.1 bar. */
const ENGINE = { displacement: 2, cylinders: 4, ratedTorque: 400 };
const PER_NM = (4 * Math.PI) / 2 / 100;

interface Wish {
  /** N.m during the stretch, by seconds since its begin. */
  readonly torque: number | ((s: number) => number);
  readonly seconds?: number;
  readonly rpm?: (s: number) => number;
  readonly engine?: Record<string, unknown>;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
  readonly more?: Record<string, Signal>;
  readonly rate?: number;
}

/** Light driving with one full-load stretch at 60 s. */
function drive({
  torque,
  seconds = 4,
  rpm = (s) => 1800 + 250 * s,
  engine = ENGINE,
  limits,
  more = {},
  rate = 10,
}: Wish) {
  const since = (t: number) => (t >= 60 && t < 60 + seconds ? t - 60 : -1);
  const held = (s: number) => (typeof torque === 'number' ? torque : torque(s));
  return driveOf(
    clock(120, rate),
    {
      engineSpeed: (t) => (since(t) < 0 ? 1800 + (Math.round(t) % 3) : rpm(since(t))),
      engineTorque: {
        values: (t) => (since(t) < 0 ? 60 + (Math.round(t * 3) % 4) : held(since(t))),
        quality: { rate },
      },
      ...more,
    },
    car({ engine, ...(limits === undefined ? {} : { limits }) }),
  );
}
const judged = (wish: Wish) => runRule(torqueLoad, drive(wish));
const told = (wish: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, with a channel that tells torque within 5 %', () => {
  // A one-sided 95 % bound at 5 %: 8.2 % below the reading.
  it.each([
    [1.15, 'clear'],
    [1.22, 'clear'],
    [1.3, 'watch'],
    [1.35, 'watch'],
    [1.44, 'watch'],
    [1.5, 'repair'],
  ])('%f times the rating', (share, outcome) => {
    expect(told({ torque: 400 * share })).toBe(outcome);
  });

  it('says "near the limit" between the reading and its bound', () => {
    expect(judged({ torque: 480 }).summary).toContain('near the limit');
    expect(judged({ torque: 400 }).summary).not.toContain('near');
  });

  it.each([
    [26, 'clear'],
    [29, 'watch'],
    [40, 'watch'],
  ])('%f bar without a rating, never beyond watch', (bar, outcome) => {
    const result = judged({ torque: bar / PER_NM, engine: { displacement: 2 } });
    expect(result.outcome === 'finding' ? result.severity : result.outcome).toBe(outcome);
    expect(JSON.stringify(result)).toContain('Rated torque not in the profile');
  });

  it('takes the limits of the profile', () => {
    const limits = { 'engine.torque-load': { watch: { value: 1.4, unit: '1' } } };
    expect(told({ torque: 520, limits })).toBe('clear');
    const result = judged({ torque: 520, limits });
    expect(result).toMatchObject({ limits: [{ name: 'watch', value: 1.4, source: 'profile' }, { name: 'repair' }] });
  });
});

describe('what must not fool it', () => {
  it('overboost of less than a second', () => {
    expect(told({ torque: (s) => (s > 1 && s < 1.8 ? 640 : 380) })).toBe('clear');
    expect(told({ torque: (s) => (s > 1 && s < 2.4 ? 640 : 380) })).toBe('repair');
  });

  it('the same torque above 3000 rpm', () => {
    expect(told({ torque: 640, rpm: (s) => 3050 + 300 * s })).toBe('unproven');
  });

  it('a torque channel of another opinion than the air makes it less sure', () => {
    // 400 N.m need about 47 g per revolution pair; the air says 400 N.m, the channel 15 and 40 % more.
    const air = (nm: number): Record<string, Signal> => ({
      airMassFlow: {
        values: (t) => {
          const s = t >= 60 && t < 64 ? t - 60 : -1;
          const n = s < 0 ? 1800 : 1800 + 250 * s;
          return s < 0 ? 12 + (Math.round(t * 3) % 4) / 10 : (((nm + 38) * n * Math.PI) / 30 / 1_079_000) * 1000;
        },
        quality: { rate: 10 },
      },
    });
    expect(told({ torque: 540 })).toBe('watch');
    const doubted = judged({ torque: 540, more: air(400) });
    expect(doubted.outcome).toBe('clear');
    expect(JSON.stringify(doubted)).toContain('Torque by channel over torque by air');
  });
});

describe('what is missing', () => {
  it('load low down, displacement, torque', () => {
    expect(judged({ torque: 400, seconds: 1.5 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('below 3000 rpm')] },
    });
    expect(judged({ torque: 400, engine: {} })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('engine.displacement')] },
    });
    const bare = driveOf(clock(60, 5), { engineSpeed: () => 2000 }, car({ engine: ENGINE }));
    expect(runRule(torqueLoad, bare)).toMatchObject({ outcome: 'unproven' });
  });

  it('a second drive brings what the first lacks', () => {
    const both = runRule(torqueLoad, [drive({ torque: 380, seconds: 1 }), drive({ torque: 560 })]);
    expect(both).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });
});
