import { describe, expect, it } from 'vitest';
import { oilSurge } from '../../../src/rules/engine/oil-surge.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** bar in each corner, from `after` s into it for `held` s. */
  readonly corner?: number;
  readonly held?: number;
  readonly after?: number;
  /** g in the corners. */
  readonly g?: number;
  readonly cornerRpm?: number;
  /** bar straight ahead at the engine speed of the corners. */
  readonly usual?: number;
  /** Seconds until the pressure comes; never with infinity. */
  readonly late?: number;
  readonly oil?: number;
  readonly rate?: number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
  readonly input?: number;
}

const START = 5;
const CORNERS = [100, 120, 140];
const inCorners = (t: number) => CORNERS.some((at) => t >= at && t < at + 4);

/** Started after 5 s, then driven straight ahead, with three corners of four seconds. */
function drive(wish: Wish = {}) {
  const { corner, held = 1, after = 1, g = 0.8, cornerRpm = 4000, usual = 4, late = 0.5, oil = 95, rate = 20 } = wish;
  const into = (t: number) => CORNERS.map((at) => t - at).find((x) => x >= 0 && x < 4) ?? Number.NaN;
  const wiggle = (t: number) => 0.01 * (Math.round(t * rate) % 2);
  const pressure = (t: number) => {
    if (t < START + late - 1e-9) return 0;
    const x = into(t);
    if (corner !== undefined && x >= after - 1e-9 && x < after + held - 1e-9) return corner;
    return t < 20 ? 2.5 : usual;
  };
  const signals: Record<string, Signal> = {
    engineSpeed: { values: (t) => (t < START ? 0 : t < 20 ? 900 : cornerRpm) + wiggle(t), quality: { rate } },
    engineOilPressure: { values: (t) => pressure(t) + wiggle(t), quality: { rate, quantum: 0.01 } },
    engineOilTemperature: { values: () => oil, quality: { rate: 1 } },
    lateralAcceleration: {
      values: (t) => (t < 20 || Number.isNaN(into(t)) ? 0 : 9.80665 * g) + wiggle(t),
      quality: { rate },
    },
    vehicleSpeed: (t) => (t < 20 ? 0 : 100) + wiggle(t),
    engineTorque: (t) => (t < 20 ? 20 : 100 + (Math.round(t) % 3)),
    ...wish.more,
  };
  for (const id of wish.without ?? []) delete signals[id];
  const engine = { ratedTorque: 500 };
  return driveOf(
    clock(160, rate),
    signals,
    car(wish.limits === undefined ? { engine } : { engine, limits: wish.limits }),
    wish.input,
  );
}
const judged = (wish?: Wish) => runRule(oilSurge, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // Guard bands: 1.645 x 0.0173 bar of the sensor; 1.645 x 2.8 % of the own pressure.
  it.each([
    [undefined, 'clear'],
    [2.05, 'clear'],
    [2, 'clear'],
    [1.96, 'stop'],
    [0.2, 'stop'],
  ])('%s bar in corners, where 4 bar are usual', (corner, outcome) => {
    expect(told(corner === undefined ? {} : { corner })).toBe(outcome);
  });

  it.each([
    [1.9, 2.6, 'clear'],
    [1.82, 2.6, 'clear'],
    [1.65, 2.6, 'stop'],
  ])('%f bar, where %f bar are usual', (corner, usual, outcome) => {
    expect(told({ corner, usual })).toBe(outcome);
  });

  it.each([
    [0.1, 'clear'],
    [0.15, 'clear'],
    [0.2, 'stop'],
  ])('a drop of %f s', (held, outcome) => {
    expect(told({ corner: 0.5, held })).toBe(outcome);
  });

  it.each([
    [3000, 'unproven'],
    [3050, 'stop'],
  ])('%i rpm', (cornerRpm, outcome) => {
    expect(told({ corner: 0.5, cornerRpm })).toBe(outcome);
  });

  it.each([
    [0.59, 'unproven'],
    [0.61, 'stop'],
  ])('%f g', (g, outcome) => {
    expect(told({ corner: 0.5, g })).toBe(outcome);
  });

  // At 20 Hz each end is known to 0.05 s: a guard band of 0.034 s.
  it.each([
    [0.5, 'clear'],
    [3, 'clear'],
    [3.1, 'watch'],
    [6, 'watch'],
    [6.1, 'repair'],
  ])('pressure %f s after the engine caught', (late, outcome) => {
    expect(told({ late })).toBe(outcome);
  });

  it('tells value, limit and when', () => {
    const result = judged({ corner: 0.8 });
    expect(result.summary).toContain('Oil pressure fell to 0.8 bar at 4000 rpm and 0.8 g (1:41)');
    expect(result).toMatchObject({ measures: { drops: { value: 3 }, drop: { value: expect.closeTo(80, 0) } } });
    expect(result.outcome === 'finding' && result.events).toHaveLength(3);
    expect(judged({ late: 4 }).summary).toContain('it took 4 s until the oil pressure reached 0.5 bar (limit 3 s)');
    expect(judged().summary).toContain('holds at least 100 % of its own pressure');
  });

  it('pressure that never comes counts with what was seen', () => {
    const result = judged({ late: Number.POSITIVE_INFINITY, more: { engineOilPressure: (t) => (t < 1 ? 0.1 : 0) } });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('had not reached 0.5 bar');
  });

  it('takes the limits of the profile', () => {
    const limits = {
      'engine.oil-surge': { pressure: { value: 1, unit: 'bar' }, 'start-watch': { value: 5, unit: 's' } },
    };
    expect(told({ corner: 1.5, limits })).toBe('clear');
    expect(told({ late: 4, limits })).toBe('clear');
    const result = judged({ corner: 0.5, limits });
    expect(result.outcome === 'finding' && result.limits).toContainEqual(
      expect.objectContaining({ name: 'pressure', value: 1, source: 'profile' }),
    );
  });

  it('weighs several drives together', () => {
    expect(runRule(oilSurge, [drive(), drive({ corner: 0.5, input: 1 })])).toMatchObject({
      severity: 'stop',
      events: [{ input: 1 }, { input: 1 }, { input: 1 }],
    });
  });
});

describe('a circuit, where the car is never driven gently at the engine speeds of its corners', () => {
  const LAP = [60, 75, 90, 105, 120, 135];
  const turn = (t: number) => LAP.some((at) => t >= at && t < at + 4);
  /** Light load at 2200 rpm until 50 s, then full load from 4500 to 6500 rpm, over and over. */
  const speed = (t: number) => (t < START ? 0 : t < 20 ? 900 : t < 50 ? 2200 : 4500 + 500 * ((t - 50) % 5));
  const lap = (corner: number, loaded = 450, straight = 4.8) =>
    drive({
      more: {
        engineSpeed: { values: (t) => speed(t) + (Math.round(t * 20) % 2), quality: { rate: 20 } },
        engineOilPressure: {
          values: (t) => {
            const quiet = t < START + 0.5 ? 0 : t < 20 ? 1.8 : t < 50 ? 2.2 : straight;
            return (turn(t) ? corner : quiet) + 0.01 * (Math.round(t * 20) % 2);
          },
          quality: { rate: 20, quantum: 0.01 },
        },
        lateralAcceleration: {
          values: (t) => (turn(t) ? 8 : 0) + 0.01 * (Math.round(t * 20) % 2),
          quality: { rate: 20 },
        },
        engineTorque: (t) => (t < 50 ? 80 : turn(t) ? loaded : 450) + (Math.round(t) % 3),
      },
    });

  it('sets it against what it holds straight ahead under load', () => {
    const result = runRule(oilSurge, lap(1.6));
    expect(result).toMatchObject({
      outcome: 'finding',
      severity: 'stop',
      measures: { drops: { value: 6 }, drop: { value: expect.closeTo(100 * (1 - 1.6 / 4.8), 0) } },
    });
    expect(runRule(oilSurge, lap(4.8))).toMatchObject({ outcome: 'clear' });
    expect(runRule(oilSurge, lap(4.8)).summary).toContain('100 % of its own pressure (');
  });

  it('leaves low pressure at light load open, which nothing of that speed can be set against', () => {
    const result = runRule(oilSurge, lap(1.8, 60));
    expect(result).toMatchObject({ outcome: 'unproven' });
    expect(result.summary).toContain('is only known from 2000 rpm');
    expect(runRule(oilSurge, lap(2.1, 60)).outcome).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('the low stage of a pump, that is there at light load straight ahead as well', () => {
    const stage = (t: number) => (t < START + 0.5 ? 0 : t < 20 ? 2.5 : (t > 30 && t < 60) || t >= 100 ? 1.8 : 4);
    expect(told({ more: { engineOilPressure: { values: stage, quality: { rate: 20 } } } })).toBe('clear');
  });

  it('a loose connector that drops out straight ahead as well', () => {
    const loose = (t: number) => (t < START + 0.5 ? 0 : t > 30 && (t + 0.5) % 7 < 0.5 ? 0 : 4);
    const result = judged({ more: { engineOilPressure: { values: loose, quality: { rate: 20 } } } });
    expect(result.outcome).toBe('unproven');
    expect('notes' in result && result.notes).toContainEqual(expect.stringContaining('as often straight ahead'));
  });

  it('single samples of nothing', () => {
    const spikes = (t: number) => (t < START + 0.5 ? 0 : inCorners(t) && Math.round(t * 20) % 4 < 2 ? 0 : 4);
    expect(told({ more: { engineOilPressure: { values: spikes, quality: { rate: 20 } } } })).toBe('clear');
  });

  it('an engine speed that falls in the corner', () => {
    const inCorner = (t: number) => CORNERS.some((at) => t > at + 1 && t < at + 2);
    const speed = (t: number) => (t < START ? 0 : t < 20 ? 900 : inCorner(t) ? 1500 : 4000);
    expect(told({ corner: 1.6, more: { engineSpeed: { values: speed, quality: { rate: 20 } } } })).not.toBe('stop');
  });

  it('a kerb', () => {
    const kerb = (t: number) => (t > 101 && t < 101.2 ? 9 : 0.01 * (Math.round(t * 20) % 2));
    expect(told({ corner: 0.5, more: { lateralAcceleration: { values: kerb, quality: { rate: 20 } } } })).toBe(
      'unproven',
    );
  });

  it('a restart after an automatic stop', () => {
    const stopped = (t: number) => t >= 8 && t < 14;
    const told = (more: Record<string, Signal>) =>
      judged({
        more: {
          engineSpeed: { values: (t) => (stopped(t) ? 0 : t < 20 ? 900 : 4000), quality: { rate: 20 } },
          engineOilPressure: { values: (t) => (t >= 8 && t < 19 ? 0 : t < 20 ? 2.5 : 4), quality: { rate: 20 } },
          ...more,
        },
      });
    expect(told({}).outcome).toBe('finding');
    const result = told({ startStopActive: (t) => (stopped(t) ? 1 : 0) });
    expect(result.outcome).not.toBe('finding');
  });

  it('an absolute sensor', () => {
    const absolute = (t: number) => 1 + (t < START + 4 ? 0 : 4) + 0.01 * (Math.round(t * 20) % 2);
    expect(told({ more: { engineOilPressure: absolute } })).toBe('watch');
  });
});

describe('what it takes', () => {
  it('names the sensors', () => {
    expect(judged({ without: ['engineOilPressure'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilPressure'] },
    });
    expect(judged({ without: ['lateralAcceleration'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['lateralAcceleration'] },
    });
    expect(judged({ without: ['engineOilTemperature'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
  });

  it('yaw rate and speed stand in for the sensor', () => {
    const yaw = (t: number) => (CORNERS.some((at) => t >= at && t < at + 4) ? 17 : 0.01 * (Math.round(t * 20) % 2));
    const more = { yawRate: { values: yaw, quality: { rate: 20 } } };
    // 100 km/h x 17 deg/s = 0.84 g.
    expect(told({ corner: 0.5, without: ['lateralAcceleration'], more })).toBe('stop');
    expect(told({ without: ['lateralAcceleration'], more })).toBe('clear');
  });

  it('needs 10 Hz for corners, cold oil says nothing of them, and nothing is said without a start', () => {
    const slow = judged({ corner: 0.5, more: {}, rate: 5 });
    expect(slow).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: expect.arrayContaining(['engineOilPressure at >= 10 Hz']) },
    });
    expect(told({ corner: 0.5, oil: 60 })).toBe('unproven');
    const running = { engineSpeed: { values: (t: number) => (t < 20 ? 900 : 4000), quality: { rate: 20 } } };
    expect(judged({ more: running })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('a start')] },
    });
  });

  it('a gap is no drop', () => {
    const gap = (t: number) =>
      CORNERS.some((at) => t > at + 1 && t < at + 2)
        ? Math.round(t * 20) % 10 === 0
          ? 0.5
          : Number.NaN
        : t < START + 0.5
          ? 0
          : 4;
    expect(told({ more: { engineOilPressure: { values: gap, quality: { rate: 20 } } } })).not.toBe('stop');
  });
});
