import { describe, expect, it } from 'vitest';
import { misfire } from '../../../src/rules/engine/misfire.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

/** 3000 rpm on four cylinders: 100 firings a second, 1000 revolutions in 20 s. */
const RPM = 3000;
const FIRINGS = 100;
const ENGINE = { cylinders: 4, revLimit: 7000 };

interface Wish {
  /** % of all firings, on cylinder 2. */
  readonly rate?: number | ((t: number) => number);
  readonly seconds?: number;
  readonly hz?: number;
  readonly engine?: Record<string, number>;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
  readonly more?: Record<string, Signal>;
  readonly without?: boolean;
  readonly input?: number;
}

/** A counter that has counted so much by each row. */
function counter(time: Float64Array, rate: (t: number) => number, start = 0): Float64Array {
  let sum = 0;
  return time.map((t, i) => {
    if (i > 0) sum += ((t - time[i - 1]!) * FIRINGS * rate(t)) / 100;
    return start + Math.floor(sum + 1e-6);
  });
}

function drive({ rate = 0, seconds = 120, hz = 10, engine = ENGINE, limits, more = {}, without, input }: Wish) {
  const time = clock(seconds, hz);
  const of = typeof rate === 'number' ? () => rate : rate;
  const flat = () => new Float64Array(time.length);
  const counters: Record<string, Signal> = {
    'misfireCount.cylinder1': flat(),
    'misfireCount.cylinder2': counter(time, of),
    'misfireCount.cylinder3': flat(),
    'misfireCount.cylinder4': flat(),
  };
  return driveOf(
    time,
    {
      engineSpeed: (t) => RPM + Math.sin(7 * t),
      engineLoad: (t) => 65 + (Math.round(t * 5) % 3),
      ...(without ? {} : counters),
      ...more,
    },
    car({ engine, ...(limits === undefined ? {} : { limits }) }),
    input,
  );
}
const judged = (wish: Wish) => runRule(misfire, drive(wish));
const told = (wish: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
/** So many misfires on cylinder 2 within each of the stretches (s). */
const bursts = (percent: number, ...stretches: readonly (readonly [number, number])[]) => ({
  rate: (t: number) => (stretches.some(([from, to]) => t > from && t <= to) ? percent : 0),
});

/** Members that only some outcomes have. */
const inside = (result: unknown) =>
  result as {
    causes?: readonly string[];
    advice?: readonly string[];
    notes?: readonly string[];
    measures?: Record<string, { value: unknown }>;
  };

describe('limits', () => {
  it.each([
    [0, 'clear'],
    [0.95, 'clear'],
    [1, 'clear'],
    [1.1, 'watch'],
    [1.9, 'watch'],
    [2, 'watch'],
    [2.15, 'repair'],
    [4.5, 'repair'],
    [5.6, 'stop'],
  ])('%f % of the firings', (rate, outcome) => {
    expect(told({ rate })).toBe(outcome);
  });

  it('says "near the limit" where the bound does not hold', () => {
    expect(judged({ rate: 1.01 }).summary).toContain('near the limit');
    expect(judged({ rate: 0.5 }).summary).not.toContain('near');
  });

  it('takes two windows of 1000 revolutions, and one of 200 for the catalyst', () => {
    expect(told(bursts(1.5, [20, 40]))).toBe('clear');
    expect(told(bursts(1.5, [20, 40], [60, 80]))).toBe('watch');
    // 200 revolutions in 4 s
    expect(told(bursts(7, [30, 34.2]))).toBe('stop');
    expect(told(bursts(4, [30, 34.2]))).toBe('clear');
  });

  // The worst of many windows is high by chance: what counts is the rate behind it.
  it.each([1, 2, 3, 4, 5, 6])('random misfires of 3 %% are no stop, of 7 %% are (seed %i)', (seed) => {
    const time = clock(600, 10);
    const random = (percent: number) => {
      let state = 7919 * seed;
      let count = 0;
      return time.map(() => {
        for (let k = 0; k < FIRINGS / 10; k++) {
          state = (state * 48271) % 2147483647;
          if (state / 2147483647 < percent / 100) count++;
        }
        return count;
      });
    };
    const of = (percent: number) => told({ seconds: 600, more: { 'misfireCount.cylinder2': random(percent) } });
    expect(of(3)).toBe('repair');
    expect(of(7)).toBe('stop');
    expect(['clear', 'watch']).toContain(of(1));
  });

  it('a burst that no even rate explains is what the catalyst sees', () => {
    expect(told({ ...bursts(7, [30, 34.2]), seconds: 1200 })).toBe('stop');
  });

  it('takes the limits of the profile, and says so', () => {
    const limits = { 'engine.misfire': { watch: { value: 0.5, unit: '%' } } };
    expect(judged({ rate: 0.7, limits })).toMatchObject({
      outcome: 'finding',
      severity: 'watch',
      limits: [{ name: 'watch', value: 0.5, source: 'profile' }, { name: 'repair' }, { name: 'stop' }],
    });
  });

  it('names the cylinder, the rate and the moment', () => {
    const result = judged({ rate: 2.5 });
    expect(result.summary).toContain('cylinder 2');
    expect(result.summary).toMatch(/2\.5\d? % of the firings/);
    expect(result).toMatchObject({ measures: { cylinders: { value: [2] } } });
    expect(inside(result).causes![0]).toContain('cylinder 2');
    expect(inside(result).advice!.some((line) => line.includes("Swap the coil of cylinder 2 with a neighbour's"))).toBe(
      true,
    );
    expect(inside(judged({ rate: 7 })).advice![0]).toContain('catalyst');
  });
});

describe('what must not fool it', () => {
  const time = clock(120, 10);
  const heavy = counter(time, (t) => (t > 40 && t <= 70 ? 20 : 0));

  it('counts in fuel cut, limiter, traction control, cylinder shut-off', () => {
    const on = (t: number) => (t > 39 && t <= 71 ? 1 : 0);
    const wish = (more: Record<string, Signal>): Wish => ({
      seconds: 120,
      more: { 'misfireCount.cylinder2': heavy, ...more },
    });
    expect(told(wish({}))).toBe('stop');
    for (const id of ['fuelCut', 'cylinderDeactivation', 'tractionControlActive', 'revLimiterActive'])
      expect(told(wish({ [id]: on })), id).toBe('clear');
    expect(told(wish({ engineSpeed: (t) => (on(t) === 1 ? 6950 : RPM) + Math.sin(7 * t) }))).toBe('clear');
    expect(inside(judged(wish({ fuelCut: on }))).notes!.join(' ')).toContain('fuel cut');
  });

  it('counts in a shift', () => {
    // Every 6 s a shift with 14 counts (2.3 % of the firings of the drive) while the ignition is cut.
    const counts = Float64Array.from(time, (t) => 14 * Math.floor((t + 3) / 6));
    const gear = (t: number) => 2 + (Math.floor((t + 3) / 6) % 2);
    const counters = { 'misfireCount.cylinder2': counts };
    expect(told({ more: counters })).toBe('repair');
    expect(told({ more: { ...counters, gear } })).toBe('clear');
  });

  it('a reset', () => {
    const saw = (percent: number) => {
      const whole = counter(time, () => percent);
      return Float64Array.from(whole, (x, i) => x - whole[Math.floor(i / 100) * 100]!);
    };
    expect(told({ more: { 'misfireCount.cylinder2': saw(0.8) } })).toBe('clear');
    expect(told({ more: { 'misfireCount.cylinder2': saw(1.4) } })).toBe('watch');
  });

  it('torn readings', () => {
    const torn = Float64Array.from(time, (_t, i) => (i % 50 === 25 ? 40 : 0));
    expect(told({ more: { 'misfireCount.cylinder2': torn } })).toBe('clear');
    const leap = Float64Array.from(time, (t) => (t > 50 ? 5000 : 0));
    expect(told({ more: { 'misfireCount.cylinder2': leap } })).toBe('clear');
  });

  it('averages of earlier drives: no evidence either way', () => {
    const stands = Object.fromEntries(
      [1, 2, 3, 4].map((c) => [`misfireCount.cylinder${c}`, new Float64Array(time.length).fill(10 * c)]),
    );
    expect(judged({ more: stands })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['misfire counters of the present drive, per cylinder'] },
    });
  });

  it('a start and a standing engine', () => {
    const cranked = counter(time, (t) => (t < 3 ? 40 : 0));
    const engineSpeed = (t: number) => (t < 2 ? 210 : RPM) + Math.sin(7 * t);
    expect(told({ more: { 'misfireCount.cylinder2': cranked, engineSpeed } })).toBe('clear');
  });

  it('a gap: neither revolutions nor misfires are counted across it', () => {
    const gapped = Float64Array.from(clock(100, 10), (t) => (t > 50 ? t + 600 : t));
    const counts = Float64Array.from(gapped, (t) => (t > 600 ? 500 : 0));
    const result = runRule(
      misfire,
      driveOf(
        gapped,
        {
          engineSpeed: (t) => RPM + Math.sin(7 * t),
          engineLoad: (t) => 65 + (Math.round(t * 5) % 3),
          'misfireCount.cylinder1': new Float64Array(gapped.length),
          'misfireCount.cylinder2': counts,
          'misfireCount.cylinder3': new Float64Array(gapped.length),
          'misfireCount.cylinder4': new Float64Array(gapped.length),
        },
        car({ engine: ENGINE }),
      ),
    );
    expect(result.outcome).toBe('clear');
    expect((inside(result).measures!.revolutions!.value as number) / 5000).toBeCloseTo(1, 1);
  });
});

describe('other evidence', () => {
  const time = clock(120, 10);
  it('a flashing lamp with the engine running is a stop', () => {
    const flash = (t: number) => (t > 30 && t < 40 && t % 1 < 0.5 ? 1 : 0);
    const result = judged({ more: { warningLampFlashing: flash } });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'stop', events: [{ severity: 'stop' }] });
    expect(told({ without: true, more: { warningLampFlashing: flash } })).toBe('stop');
    expect(told({ more: { warningLampFlashing: (t) => (t > 30 && t < 30.5 ? 1 : 0) } })).toBe('clear');
    // Lamp test with the key on, and a dead column
    expect(
      told({
        more: { warningLampFlashing: (t) => (t < 5 ? 1 : 0), engineSpeed: (t) => (t < 8 ? 0 : RPM + Math.sin(t)) },
      }),
    ).toBe('clear');
    expect(told({ more: { warningLampFlashing: () => 1 } })).toBe('clear');
  });

  const rough = (share: number, all = false): Record<string, Signal> =>
    Object.fromEntries(
      [1, 2, 3, 4].map((c) => [
        `engineRoughness.cylinder${c}`,
        Float64Array.from(time, (_t, i) => {
          const noise = 1 + 0.2 * Math.sin(12.9898 * i + 7 * c) + 0.1 * Math.sin(78.233 * i * c);
          return noise + (share > 0 && i % Math.round(1 / share) === 5 && (c === 2 || all) ? 30 : 0);
        }),
      ]),
    );

  it('roughness alone: a watch at most, from one cylinder alone, and never clear', () => {
    // One reading in eight of ten a second: 1.25 misfires a second of 100 firings.
    expect(judged({ without: true, more: rough(1 / 8) })).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(told({ without: true, more: rough(1 / 40) })).toBe('unproven');
    expect(told({ without: true, more: rough(1 / 8, true) })).toBe('unproven');
    expect(judged({ without: true, more: rough(0) })).toMatchObject({ missing: { channels: ['misfireCount'] } });
  });
});

describe('what is missing', () => {
  it('counters, cylinders, revolutions', () => {
    expect(judged({ without: true })).toMatchObject({ outcome: 'unproven', missing: { channels: ['misfireCount'] } });
    const time = clock(120, 10);
    const total = { misfireCount: counter(time, () => 1.5) };
    expect(judged({ without: true, engine: {}, more: total })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['vehicle profile with engine.cylinders'] },
    });
    expect(told({ without: true, more: total })).toBe('watch');
    expect(judged({ seconds: 40 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['>= 3000 revolutions with the misfire counters'] },
    });
    expect(inside(judged({ engine: {} })).notes!.join(' ')).toContain('4 cylinders taken from');
  });

  it('load: idle and cruise alone prove nothing', () => {
    const engineLoad = (t: number) => (t < 5 ? 12 : 40) + (Math.round(t * 5) % 3);
    expect(judged({ more: { engineLoad } })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('under load')] },
    });
    // Misfires are found all the same.
    expect(told({ rate: 2.5, more: { engineLoad } })).toBe('repair');
    // 200 revolutions at 3000 rpm take four seconds.
    const pull = (seconds: number) => (t: number) => (t > 60 && t <= 60 + seconds ? 80 : engineLoad(t));
    expect(told({ more: { engineLoad: pull(3) } })).toBe('unproven');
    expect(told({ more: { engineLoad: pull(6) } })).toBe('clear');
  });

  it('several drives add up', () => {
    const one = drive({ rate: 1.5, seconds: 30 });
    const other = drive({ rate: 1.5, seconds: 30, input: 1 });
    expect(runRule(misfire, one).outcome).toBe('unproven');
    expect(runRule(misfire, [one, other])).toMatchObject({
      outcome: 'finding',
      severity: 'watch',
      events: [{ input: 0 }, { input: 1 }],
    });
    expect(runRule(misfire, [drive({ seconds: 40 }), drive({ seconds: 40, input: 1 })]).outcome).toBe('clear');
  });

  it('a slow counter is read over longer windows only', () => {
    expect(told({ rate: 1.5, hz: 1 })).toBe('watch');
    expect(told({ rate: 7, hz: 1 })).toBe('stop');
    expect(told({ rate: 0.6, hz: 1 })).toBe('clear');
  });
});
