import { describe, expect, it } from 'vitest';
import { oilDilution } from '../../../src/rules/engine/oil-dilution.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** % total trim at idle while the oil warms, and hot. */
  readonly early?: number;
  readonly late?: number;
  /** The same while cruising. */
  readonly cruise?: readonly [number, number];
  /** Seconds of each idle. */
  readonly idle?: number;
  readonly oil?: (t: number) => number;
  readonly rate?: number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
  readonly input?: number;
}

/** Idle with oil at 60 °C from 60 s on, cruise at both temperatures, idle with oil at 95 °C from 300 s on. */
function drive(wish: Wish = {}) {
  const { early = 0, late = 0, cruise = [0, 0], idle = 60, rate = 2 } = wish;
  const oil = wish.oil ?? ((t: number) => (t < 200 ? 60 : 95));
  const idles = (t: number) => (t >= 60 && t < 60 + idle + 4) || (t >= 300 && t < 300 + idle + 4);
  // Ripple of one step of a byte, so that the column lives.
  const ripple = (t: number) => 0.78 * (Math.round(t * rate) % 2 === 0 ? 0 : 0.01);
  const short = (t: number) =>
    (idles(t) ? (oil(t) < 80 ? early : late) : oil(t) < 80 ? cruise[0] : cruise[1]) + ripple(t);
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (t < 5 ? 0 : idles(t) ? 800 : 2000),
    vehicleSpeed: (t) => (t < 5 || idles(t) ? 0 : 70),
    pedalPosition: (t) => (t < 5 || idles(t) ? 0 : 20),
    engineLoad: (t) => (idles(t) ? 20 : 35),
    coolantTemperature: { values: () => 85, quality: { rate: 1 } },
    engineOilTemperature: { values: (t) => oil(t) + 0.5 * (Math.round(t) % 2), quality: { rate: 1 } },
    fuelSystemStatus: (t) => (t < 20 ? 1 : 2),
    'fuelTrimShort.bank1': { values: short, quality: { rate, quantum: 0.1 } },
    'fuelTrimLong.bank1': { values: () => 0, quality: { quantum: 0.1, constant: false } },
    purgeDuty: { values: (t) => 5 + (Math.round(t) % 2), quality: { rate: 1 } },
    ...wish.more,
  };
  for (const id of wish.without ?? []) delete signals[id];
  return driveOf(clock(380, rate), signals, car(wish.limits === undefined ? {} : { limits: wish.limits }), wish.input);
}
const judged = (wish?: Wish) => runRule(oilDilution, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // Guard band: 1.645 x 0.7 points of drift.
  it.each([
    [0, 0, 'clear'],
    [-5, 0, 'clear'],
    [-6, 0, 'clear'],
    [-6.3, 0, 'watch'],
    [-9, -4, 'clear'],
    [-12, -4, 'watch'],
    [-4, 3, 'watch'],
  ])('%f %% while it warms, %f %% hot', (early, late, outcome) => {
    expect(told({ early, late })).toBe(outcome);
  });

  it('tells both trims, the fading and when', () => {
    const result = judged({ early: -9, late: -1 });
    expect(result).toMatchObject({ measures: { fading: { value: expect.closeTo(8, 1) } } });
    expect(result.summary).toContain('faded by 8 points (limit 5)');
    expect(result.summary).toContain('idle trim -9 % while the oil warmed (1:04 to 2:04)');
  });

  it('needs no status of the loop: a trim that moves towards a recorded target of 1 shows it with a cold engine', () => {
    const without = ['fuelSystemStatus'];
    const coolantTemperature = {
      values: (t: number) => (t < 200 ? 55 : 88) + (Math.round(t) % 2),
      quality: { rate: 1 },
    };
    const lambdaTarget = { values: (t: number) => (t < 30 ? 0.95 : 1), quality: { rate: 2 } };
    expect(told({ early: -9, late: -1, without, more: { coolantTemperature, lambdaTarget } })).toBe('watch');
    expect(told({ early: -1, late: -1, without, more: { coolantTemperature, lambdaTarget } })).toBe('clear');
    // Without a target an engine below 70 °C may as well be in open loop.
    expect(told({ early: -9, late: -1, without, more: { coolantTemperature } })).toBe('unproven');
  });

  it('a level that has risen, or pressure that has fallen, against an earlier drive makes it a repair', () => {
    const level = (mm: number): Record<string, Signal> => ({
      engineOilLevel: { values: (t) => mm + 0.1 * (Math.round(t) % 2), quality: { rate: 1 } },
    });
    const drives = (mm: number) => [drive({ more: level(50) }), drive({ early: -9, more: level(mm), input: 1 })];
    expect(runRule(oilDilution, drives(53))).toMatchObject({ severity: 'watch' });
    expect(runRule(oilDilution, drives(55))).toMatchObject({ severity: 'repair' });
    const pressed = (share: number): Record<string, Signal> => ({
      engineOilPressure: {
        values: (t) =>
          (t < 5 ? 0 : share * ((t >= 300 && t < 364) || (t >= 60 && t < 124) ? 1.6 : 3)) +
          0.01 * (Math.round(2 * t) % 2),
        quality: { rate: 2 },
      },
    });
    const thinned = (share: number) => [
      drive({ more: pressed(1) }),
      drive({ early: -9, more: pressed(share), input: 1 }),
    ];
    expect(runRule(oilDilution, thinned(0.87))).toMatchObject({ severity: 'watch' });
    expect(runRule(oilDilution, thinned(0.78))).toMatchObject({ severity: 'repair' });
    expect(runRule(oilDilution, thinned(0.78)).summary).toContain('% below that of an earlier drive');
    // The other signs alone say nothing of fuel.
    expect(runRule(oilDilution, [drive({ more: pressed(1) }), drive({ more: pressed(0.7), input: 1 })])).toMatchObject({
      outcome: 'clear',
    });
  });

  it('takes the limits of the profile', () => {
    const limits = { 'engine.oil-dilution': { watch: { value: 8, unit: '%' } } };
    expect(told({ early: -7, limits })).toBe('clear');
    const result = judged({ early: -12, limits });
    expect(result).toMatchObject({ outcome: 'finding', limits: [{ name: 'watch', value: 8, source: 'profile' }] });
  });

  it('takes the drive that shows it', () => {
    expect(runRule(oilDilution, [drive(), drive({ early: -9, input: 1 }), drive({ input: 2 })])).toMatchObject({
      severity: 'watch',
      events: [{ input: 1 }],
    });
  });
});

describe('what must not fool it', () => {
  it('a leaking injector: rich with hot oil as well', () => {
    expect(told({ early: -12, late: -12 })).toBe('clear');
  });

  it('ethanol, and a lean idle that fades', () => {
    expect(told({ early: 6, late: 6 })).toBe('clear');
    const result = judged({ early: 2, late: 9 });
    expect(result.outcome).toBe('clear');
    expect(result.summary).toContain('it was not rich');
  });

  it('one bank alone', () => {
    const bank2: Record<string, Signal> = {
      'fuelTrimShort.bank2': { values: (t) => 0.1 * (Math.round(2 * t) % 2), quality: { rate: 2, quantum: 0.1 } },
      'fuelTrimLong.bank2': { values: () => 0, quality: { quantum: 0.1, constant: false } },
    };
    expect(told({ early: -12, more: bank2 })).toBe('clear');
  });

  it('tank ventilation that opens for less than half of the idle, and its high duty', () => {
    const purged = (t: number) => (t >= 64 && t < 124 && t % 20 < 11 ? -9 : 0.1 * (Math.round(2 * t) % 2));
    const more: Record<string, Signal> = {
      'fuelTrimShort.bank1': { values: purged, quality: { rate: 2, quantum: 0.1 } },
    };
    const result = judged({ more });
    expect(result.outcome).toBe('clear');
    expect(result.summary).toContain('rich for a part of the time only');
    const duty = { purgeDuty: { values: (t: number) => (t < 200 ? 60 : 5), quality: { rate: 1 } } };
    expect(judged({ early: -12, more: duty })).toMatchObject({ outcome: 'unproven' });
  });

  it('a warm-up map that is off: cruising fades with the idle', () => {
    const result = judged({ early: -9, cruise: [-8, 0] });
    expect(result.outcome).toBe('clear');
    expect(result.summary).toContain('cruising changed with it');
    expect(told({ early: -9, cruise: [-2, 0] })).toBe('watch');
  });

  it('open loop, and the 45 s after a start', () => {
    expect(told({ early: -12, more: { fuelSystemStatus: (t) => (t < 130 ? 1 : 2) } })).toBe('unproven');
    expect(told({ early: -12, more: { engineSpeed: (t) => (t < 55 ? 0 : t < 124 ? 800 : 2000) }, idle: 40 })).toBe(
      'unproven',
    );
  });
});

describe('what it takes', () => {
  it('names what is missing', () => {
    expect(judged({ without: ['engineOilTemperature'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
    expect(judged({ without: ['fuelTrimLong.bank1'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['fuelTrimLong.bank1'] },
    });
  });

  it('takes thirty seconds of idle on both sides', () => {
    expect(told({ early: -9, idle: 28 })).toBe('unproven');
    expect(told({ early: -9, idle: 33 })).toBe('watch');
    const neverCold = judged({ early: -9, oil: () => 95 });
    expect(neverCold).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('while the oil warms')] },
    });
    const neverHot = judged({ early: -9, oil: () => 60 });
    expect(neverHot).toMatchObject({ missing: { conditions: [expect.stringContaining('80 °C and more')] } });
  });

  it('counts no gap', () => {
    const gap = (t: number) => (t > 70 && t < 110 ? Number.NaN : -9 - 0.1 * (Math.round(2 * t) % 2));
    const more: Record<string, Signal> = {
      'fuelTrimShort.bank1': { values: (t) => (t < 200 ? gap(t) : 0), quality: { rate: 2, quantum: 0.1 } },
    };
    expect(told({ more })).toBe('unproven');
  });

  it('without purge duty it stays a doubt', () => {
    const sure = judged({ early: -12 });
    const doubtful = judged({ early: -12, without: ['purgeDuty'] });
    if (sure.outcome !== 'finding' || doubtful.outcome !== 'finding') throw new Error('expected two findings');
    expect(doubtful.confidence).toBeLessThan(sure.confidence);
    expect(doubtful.notes).toContainEqual(expect.stringContaining('Tank ventilation not recorded'));
  });
});
