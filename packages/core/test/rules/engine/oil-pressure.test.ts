import { describe, expect, it } from 'vitest';
import { oilPressure } from '../../../src/rules/engine/oil-pressure.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const FIXED = car({ engine: { oilPump: 'fixed' } });

interface Wish {
  readonly idle?: number;
  /** bar at 3000 rpm; also a function of time. */
  readonly speed?: number | ((t: number) => number);
  readonly rpm?: number;
  readonly oil?: number;
  readonly rate?: number;
  readonly vehicle?: Vehicle;
  readonly more?: Record<string, Signal | undefined>;
  readonly idleSeconds?: number;
  readonly input?: number;
  /** Added to every reading (an absolute sensor). */
  readonly offset?: number;
  /** Seconds at rest before the start. */
  readonly rest?: number;
}

/** Rest, idle for `idleSeconds`, then 60 s at speed, then idle again for 5 s. */
function drive(wish: Wish = {}) {
  const {
    idle = 1.5,
    speed = 3,
    rpm = 3000,
    oil = 95,
    rate = 10,
    idleSeconds = 30,
    offset = 0,
    rest = 0,
    input = 0,
  } = wish;
  const begin = rest + idleSeconds;
  const moves = (t: number) => t >= begin && t < begin + 60;
  const at = typeof speed === 'number' ? () => speed : speed;
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (t < rest ? 0 : moves(t) ? rpm : 750),
    vehicleSpeed: (t) => (moves(t) ? 90 : 0),
    pedalPosition: (t) => (moves(t) ? 20 + (t % 7) : 0),
    engineOilTemperature: { values: () => oil, quality: { rate: 1 } },
    engineOilPressure: {
      values: (t) => offset + (t < rest ? 0 : moves(t) ? at(t - begin) : idle),
      quality: { rate, quantum: 0.01 },
    },
  };
  for (const [id, signal] of Object.entries(wish.more ?? {})) {
    if (signal === undefined) delete signals[id];
    else signals[id] = signal;
  }
  return driveOf(clock(begin + 65, rate), signals, wish.vehicle, input);
}

const judged = (wish: Wish = {}) => runRule(oilPressure, drive(wish));

describe('limits, exactly on each and one step either side', () => {
  // 0.03 bar of scatter between sensors: the guard band is 0.03 bar.
  it.each([
    [1, 'clear', 'watch'],
    [0.7, 'watch', 'repair'],
    [0.5, 'repair', 'stop'],
  ])('hot idle at %s bar', (limit, above, below) => {
    const level = (idle: number) => {
      const result = judged({ idle });
      return result.outcome === 'finding' ? result.severity : result.outcome;
    };
    expect(level(limit + 0.01)).toBe(above);
    expect(level(limit)).toBe(above);
    expect(level(limit - 0.05)).toBe(below);
  });

  it.each([
    [3000, 2, undefined],
    [2300, 0.69 * 2.3, undefined],
    [6000, 2, undefined],
    [6000, 3.5, FIXED],
    [4000, 0.69 * 4, FIXED],
  ] as const)('at %s rpm needs %s bar', (rpm, limit, vehicle) => {
    const wish = { rpm, ...(vehicle ? { vehicle } : {}) };
    expect(judged({ ...wish, speed: limit + 0.01 })).toMatchObject({ outcome: 'clear' });
    expect(judged({ ...wish, speed: limit })).toMatchObject({ outcome: 'clear' });
    expect(judged({ ...wish, speed: limit - 0.05 })).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });

  it('stops below 1 bar above 2000 rpm for a second', () => {
    const dip =
      (seconds: number, low = 0.9) =>
      (t: number) =>
        t >= 20 && t < 20 + seconds - 1e-9 ? low : 3;
    expect(judged({ speed: dip(1) })).toMatchObject({ outcome: 'finding', severity: 'stop' });
    expect(judged({ speed: dip(0.9) })).toMatchObject({ outcome: 'clear' });
    expect(judged({ speed: dip(1, 1) })).toMatchObject({ severity: 'repair' });
    expect(judged({ speed: dip(1), rpm: 2000 })).toMatchObject({ outcome: 'unproven' });
  });

  it('says pressure, limit, speed and moment', () => {
    const result = judged({ speed: (t) => (t > 20 && t < 25 ? 1.4 : 3) });
    expect(result.summary).toBe(
      'Oil pressure falls to 1.4 bar at 3000 rpm (limit 2 bar: 0.69 bar per 1000 rpm, at most 2 bar) at 0:50.',
    );
    expect(result).toMatchObject({ events: [{ severity: 'repair', peak: { value: 1.4, unit: 'bar' } }] });
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const limits = { 'engine.oil-pressure': { 'idle-watch': { value: 200, unit: 'kPa' } } };
    const result = judged({ idle: 1.5, vehicle: car({ limits }) });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    const shown = result.outcome === 'finding' ? result.limits.find(({ name }) => name === 'idle-watch') : undefined;
    expect(shown).toMatchObject({ source: 'profile', unit: 'bar' });
    expect(shown?.value).toBeCloseTo(2, 9);
  });
});

describe('the car against itself', () => {
  const later = (share: number) =>
    runRule(oilPressure, [drive({ idle: 2, speed: 4 }), drive({ idle: 2 * share, speed: 4 * share, input: 1 })]);

  it('watches a loss beyond a quarter that shows at idle as well', () => {
    expect(later(0.76)).toMatchObject({ outcome: 'clear' });
    expect(later(0.7)).toMatchObject({ outcome: 'finding', severity: 'watch', measures: { ownLoss: { unit: '%' } } });
  });

  it('takes no stage of a pump for a loss: idle is spared', () => {
    expect(
      runRule(oilPressure, [drive({ idle: 1.6, speed: 4 }), drive({ idle: 1.6, speed: 2.1, input: 1 })]),
    ).toMatchObject({ outcome: 'clear' });
    const stages = (t: number) => (Math.floor(t / 8) % 2 === 0 ? 4 : 2.1);
    expect(judged({ speed: stages })).toMatchObject({ outcome: 'clear' });
  });
});

describe('what must not fool it', () => {
  it('takes the barometric pressure off an absolute sensor that was seen at rest', () => {
    const hidden = judged({ idle: 0.6, offset: 1, rest: 10 });
    expect(hidden).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(hidden.outcome === 'finding' && hidden.notes?.join(' ')).toContain('absolute');
    expect(judged({ idle: 1.5, offset: 0, rest: 10 })).toMatchObject({
      outcome: 'clear',
      measures: { hotIdle: { value: 1.5 } },
    });
  });

  it('says that gauge or absolute was not seen when the engine never rested', () => {
    const result = judged();
    expect(result.outcome === 'clear' && result.notes?.join(' ')).toContain('never at rest');
  });

  it('lets pressure follow a jump of engine speed late', () => {
    const rpm = (t: number) => (t < 30 ? 750 : t > 90 ? 750 : Math.floor(t / 5) % 2 === 0 ? 4500 : 2100);
    const late = (t: number) => {
      const n = rpm(t - 0.4);
      return n < 1000 ? 1.5 : n > 4000 ? 3.4 : 1.6;
    };
    expect(judged({ more: { engineSpeed: rpm, engineOilPressure: late } })).toMatchObject({ outcome: 'clear' });
  });

  it('waits for a start, and for hot oil', () => {
    expect(judged({ oil: 79, idle: 0.6 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('80 °C: idle'), expect.stringContaining('2000 rpm')] },
    });
    expect(judged({ oil: 60, speed: 1.5 })).toMatchObject({ outcome: 'unproven' });
    // Colder oil makes more pressure: below the limit for a stop it cannot get better by warming up.
    expect(judged({ oil: 60, speed: 0.5 })).toMatchObject({ outcome: 'finding', severity: 'stop' });
    const startAtSpeed = { engineSpeed: (t: number) => (t < 30 ? 0 : t < 90 ? 3000 : 750) };
    expect(judged({ speed: (t) => (t < 8 ? 0.1 : 3), more: startAtSpeed })).not.toMatchObject({ outcome: 'finding' });
  });

  it('single-sample spikes', () => {
    expect(judged({ speed: (t) => (Math.round(t * 10) % 100 === 0 ? 0 : 3) })).toMatchObject({ outcome: 'clear' });
  });

  it('does not believe a sensor that never moves', () => {
    const result = judged({ more: { engineOilPressure: { values: () => 3.5 } } });
    expect(result).toMatchObject({ outcome: 'unproven', missing: { channels: ['engineOilPressure'] } });
  });
});

describe('what is missing', () => {
  it('names channels', () => {
    expect(judged({ more: { engineOilPressure: undefined } })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilPressure'] },
    });
    expect(judged({ more: { engineOilTemperature: undefined } })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
  });

  it('wants ten seconds of idle and some seconds at speed', () => {
    expect(judged({ idleSeconds: 8 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('idle')] },
    });
    expect(judged({ idleSeconds: 12.2 })).toMatchObject({ outcome: 'clear' });
    expect(judged({ rpm: 1900 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('2000 rpm')] },
    });
  });

  it('lets ten minutes of warm coolant stand in for the oil, and is less sure', () => {
    const more = { engineOilTemperature: undefined, coolantTemperature: { values: () => 90, quality: { rate: 1 } } };
    expect(judged({ more })).toMatchObject({ outcome: 'unproven' });
    const long = judged({ more, idleSeconds: 620 });
    expect(long).toMatchObject({ outcome: 'clear' });
    expect(long.outcome === 'clear' && long.confidence).toBeLessThan(0.9);
  });

  it('judges without road speed, idle by engine speed alone', () => {
    expect(judged({ idle: 0.6, more: { vehicleSpeed: undefined, pedalPosition: undefined } })).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
    });
  });

  it('needs three fresh samples: at 1 Hz a dip of one sample is none', () => {
    const dip = (n: number) => (t: number) => (t >= 20 && t < 20 + n - 1e-9 ? 0.9 : 3 + (Math.round(t) % 2) / 100);
    expect(judged({ rate: 1, speed: dip(2) })).toMatchObject({ outcome: 'clear' });
    expect(judged({ rate: 1, speed: dip(3) })).toMatchObject({ outcome: 'finding', severity: 'stop' });
  });
});
