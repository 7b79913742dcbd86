import { describe, expect, it } from 'vitest';
import { lambdaLoad } from '../../../src/rules/fuel/lambda-load.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  readonly rate?: number;
  /** Target at full load, by seconds since its begin. */
  readonly target?: (s: number) => number;
  /** Lambda over target at full load, by seconds since its begin. */
  readonly over?: (s: number) => number;
  /** Seconds by which the sensor is late. */
  readonly lag?: number;
  readonly rpm?: (s: number) => number;
  readonly vehicle?: Vehicle;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly pulls?: number;
}

const FIRST = 20;
const PERIOD = 30;
const LASTS = 6;

/** Cruise at lambda 1 with pulls of 6 s every 30 s. */
function drive(wish: Wish = {}) {
  const {
    rate = 20,
    target = () => 0.86,
    over = () => 0,
    lag = 0.15,
    rpm = (s) => 2600 + 550 * s,
    vehicle,
    more = {},
    without = [],
    pulls = 4,
  } = wish;
  const since = (t: number): number => {
    const s = t < FIRST ? -1 : (t - FIRST) % PERIOD;
    return s >= 0 && s < LASTS && t < FIRST + pulls * PERIOD ? s : -1;
  };
  const wanted = (t: number): number => {
    const s = since(t);
    return s < 0 ? 1 : 1 + (target(s) - 1) * Math.min(1, s / 0.3);
  };
  const mixture = (t: number): number => {
    const s = since(t);
    // Closed loop never stands quite still.
    return wanted(t) + (s < 0 ? 0.001 * (Math.round(t) % 2) : over(s));
  };
  const step = (x: number) => Math.round(x * 1000) / 1000;
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (since(t) < 0 ? 2200 : rpm(since(t))),
    vehicleSpeed: (t) => (t < 5 ? 0 : since(t) < 0 ? 80 : 85 + 5 * since(t)),
    pedalPosition: { values: (t) => (t < 5 ? 0 : since(t) < 0 ? 18 + (Math.round(t) % 3) : 100), quality: { rate } },
    manifoldPressure: { values: (t) => (since(t) < 0 ? 60 : 230), quality: { rate } },
    gear: { values: () => 3, quality: { rate } },
    'lambda.bank1': { values: (t) => step(mixture(t - lag)), quality: { rate, quantum: 0.001 } },
    lambdaTarget: { values: (t) => step(wanted(t)), quality: { rate, quantum: 0.001 } },
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(FIRST + 4 * PERIOD, rate), signals, vehicle);
}

const judged = (wish: Wish = {}) => runRule(lambdaLoad, drive(wish));
const told = (wish: Wish = {}) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
/** Lean from 3 s into the pull, for a while. */
const lean = (size: number, seconds: number) => (s: number) => (s >= 3 && s < 3 + seconds - 1e-9 ? size : 0);

describe('two banks', () => {
  it('lean in the same pull are one event, and each of its lines says whose it is', () => {
    const since = (t: number) => (t < FIRST ? -1 : (t - FIRST) % PERIOD);
    const late = (t: number) => {
      const s = since(t - 0.15);
      return s < 0 || s >= LASTS ? 1 : 1 - 0.14 * Math.min(1, s / 0.3) + lean(0.08, 1)(s);
    };
    const bank2 = { values: (t: number) => Math.round(1000 * late(t)) / 1000, quality: { rate: 20, quantum: 0.001 } };
    const result = judged({ over: lean(0.08, 1), pulls: 4, more: { 'lambda.bank2': bank2 } });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair', measures: { events: { value: 4 } } });
    const sensors = result.outcome === 'finding' ? result.events.map((event) => event.sensor) : [];
    expect(sensors.filter((name) => name === 'bank 1')).toHaveLength(4);
    expect(sensors.filter((name) => name === 'bank 2')).toHaveLength(4);
  });
});

it('counts one stretch of lean mixture once, whatever limits it passes, and says the same number in text and measure', () => {
  const over = (s: number) => (s > 2 && s < 3 ? 0.25 : s >= 3 && s < 4.5 ? 0.07 : 0);
  const result = runRule(lambdaLoad, drive({ over }));
  if (result.outcome !== 'finding') throw new Error(result.summary);
  expect(result.measures.events?.value).toBe(4);
  expect(result.events.length).toBeGreaterThan(4);
  expect(result.summary).toContain(', 4 times');
  // Of another kind before and after a pause: told apart.
  const twice = (s: number) => (s > 1 && s < 1.9 ? 0.25 : s > 4 && s < 5.5 ? 0.07 : 0);
  const both = runRule(lambdaLoad, drive({ over: twice }));
  if (both.outcome !== 'finding') throw new Error(both.summary);
  expect(both.measures.events?.value).toBe(8);
  expect(both.summary).toContain(', 4 of 8 times beyond a limit');
});

describe('limits, exactly on each and one step either side', () => {
  // 0.005 of scatter between sensors: the guard band is 0.005.
  it('lambda over its target', () => {
    expect(told({ over: lean(0.049, 2) })).toBe('clear');
    expect(told({ over: lean(0.05, 2) })).toBe('clear');
    expect(told({ over: lean(0.06, 2) })).toBe('repair');
    expect(told({ over: lean(0.1, 2) })).toBe('repair');
    expect(told({ over: lean(0.11, 2) })).toBe('stop');
  });

  it('lambda beyond 1.02 where enrichment is wanted', () => {
    const target = () => 0.94;
    expect(told({ target, over: lean(0.08, 2) })).toBe('repair');
    expect(told({ target, over: lean(0.09, 2) })).toBe('stop');
    expect(told({ target: () => 0.95, over: lean(0.09, 2) })).toBe('repair');
  });

  it('takes 0.5 s for a repair and 0.3 s for a stop', () => {
    expect(told({ over: lean(0.08, 0.4) })).toBe('clear');
    expect(told({ over: lean(0.08, 0.5) })).toBe('repair');
    expect(told({ over: lean(0.15, 0.2) })).toBe('clear');
    expect(told({ over: lean(0.15, 0.3) })).toBe('stop');
  });

  it('below 0.72: smoke', () => {
    expect(told({ target: () => 0.72 })).toBe('clear');
    expect(told({ target: () => 0.71 })).toBe('watch');
  });

  it('says lambda, target, limit, bank and moment', () => {
    expect(judged({ over: lean(0.08, 1), pulls: 1 }).summary).toMatch(
      /^Lambda 0\.94 on bank 1 at full load and \d+ rpm at 0:23, 0\.08 leaner than the target of 0\.86 \(limit 0\.05\)\.$/,
    );
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const limits = { 'fuel.lambda-load': { repair: { value: 0.02, unit: '1' } } };
    const result = judged({ over: lean(0.03, 2), vehicle: car({ limits }) });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.outcome === 'finding' && result.limits.find(({ name }) => name === 'repair')).toMatchObject({
      value: 0.02,
      source: 'profile',
    });
  });
});

describe('without a target', () => {
  const blind = { without: ['lambdaTarget'] };

  it('is content with an enriched engine', () => {
    const result = judged(blind);
    expect(result).toMatchObject({ outcome: 'clear' });
    expect(result.outcome === 'clear' && result.confidence).toBeLessThan(0.8);
  });

  it('watches one that leans out above 0.92 under high boost for a second', () => {
    expect(told({ ...blind, over: lean(0.06, 2) })).toBe('clear');
    expect(told({ ...blind, over: lean(0.07, 2) })).toBe('watch');
    expect(told({ ...blind, over: lean(0.07, 0.9) })).toBe('clear');
    expect(judged({ ...blind, over: lean(0.07, 2) }).summary).toContain('if this engine is enriched');
    const lowBoost = { manifoldPressure: { values: (t: number) => 150 + (Math.round(t) % 2), quality: { rate: 20 } } };
    expect(told({ ...blind, over: lean(0.07, 2), more: lowBoost })).toBe('clear');
    expect(told({ ...blind, over: lean(0.07, 2), rpm: (s) => 2600 + 100 * s })).toBe('clear');
  });

  it('leaves a calibration for lambda 1 open, and does not condemn delayed protection', () => {
    expect(judged({ ...blind, target: () => 1 })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['lambdaTarget'] },
    });
    const delayed = (s: number) => (s < 3 ? 1 : s < 4 ? 1 - 0.14 * (s - 3) : 0.86);
    expect(told({ ...blind, target: delayed })).toBe('clear');
  });

  it('does not use a target column that never moves while the mixture does', () => {
    const result = judged({ more: { lambdaTarget: { values: () => 1, quality: { rate: 20 } } } });
    expect(result).toMatchObject({ outcome: 'clear' });
    expect(result.outcome === 'clear' && result.notes?.join(' ')).toContain('never moves');
  });
});

describe('what must not fool it', () => {
  it('calibrations for lambda 1 and delayed protection, by their target', () => {
    expect(told({ target: () => 1 })).toBe('clear');
    expect(told({ target: (s) => (s < 3 ? 1 : 0.86) })).toBe('clear');
  });

  it.each([0.1, 0.3, 0.6])('a sensor late by %s s, which is measured', (lag) => {
    const result = judged({ lag, target: (s) => (s < 2.5 ? 0.95 : 0.83) });
    expect(result).toMatchObject({ outcome: 'clear' });
    expect(Number(result.outcome === 'clear' && result.measures.lag?.value)).toBeCloseTo(lag, 1);
  });

  it('scavenging below 2500 rpm', () => {
    const rpm = (s: number) => 1600 + 300 * s;
    expect(told({ rpm, over: (s) => (s < 2.5 ? 0.12 : 0) })).toBe('clear');
    expect(told({ over: (s) => (s < 2.5 ? 0.12 : 0) })).toBe('stop');
  });

  it('wall film at the onset of load, and a single noisy sample', () => {
    expect(told({ over: (s) => (s < 0.7 ? 0.2 : 0) })).toBe('clear');
    expect(told({ over: lean(0.3, 0.1) })).toBe('clear');
  });

  it('the limiter', () => {
    const wish = { rpm: (s: number) => 2600 + 560 * s, over: (s: number) => (s > 4.5 ? 0.15 : 0) };
    expect(told({ ...wish, vehicle: car({ engine: { revLimit: 5150 } }) })).toBe('clear');
    expect(told(wish)).toBe('stop');
  });

  it('volts of a narrow-band sensor, sensors behind the catalyst, a dead sensor', () => {
    const only = (id: string, signal: Signal) => judged({ without: ['lambda.bank1'], more: { [id]: signal } });
    const volts = { values: (t: number) => (Math.floor(t) % 2 === 0 ? 0.45 : 0.9), unit: 'V' };
    expect(only('lambda', volts)).toMatchObject({ outcome: 'unproven', missing: { channels: ['lambda'] } });
    expect(only('lambda.bank1.sensor2', (t) => 1 + (t % 2) / 10)).toMatchObject({ outcome: 'unproven' });
    expect(only('lambda', () => 1)).toMatchObject({ outcome: 'unproven' });
  });
});

describe('what is missing', () => {
  it('names channels and conditions', () => {
    expect(judged({ without: ['lambda.bank1'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['lambda'] },
    });
    expect(
      judged({ pulls: 0, more: { pedalPosition: { values: (t) => (t % 7) * 3, quality: { rate: 20 } } } }),
    ).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('full-load pull')] },
    });
    expect(judged({ without: ['pedalPosition'] })).toMatchObject({
      outcome: 'unproven',
    });
  });

  it('names the rate: one sample a second does not show a lean moment', () => {
    expect(judged({ rate: 1 })).toMatchObject({ outcome: 'unproven' });
    const result = judged({ rate: 4, over: lean(0.08, 0.3) });
    expect(result).toMatchObject({ outcome: 'unproven', missing: { conditions: ['lambda at >= 6 Hz'] } });
    expect(told({ rate: 4 })).toBe('clear');
  });
});

describe('behind a fuel cut', () => {
  /** Six seconds of cut that end two seconds before each pull; a first-order sensor that ends at lambda 2. */
  const cut = (t: number) =>
    t > 10 && (t - FIRST + PERIOD) % PERIOD >= PERIOD - 8 && (t - FIRST + PERIOD) % PERIOD < PERIOD - 2;
  const sensor = (constant: number, lean = 0): Signal => {
    const time = clock(FIRST + 4 * PERIOD, 20);
    const values = new Float64Array(time.length);
    let state = 1;
    for (let i = 0; i < values.length; i++) {
      const s = time[i]! < FIRST ? -1 : (time[i]! - FIRST) % PERIOD;
      const gas = cut(time[i]!) ? 3 : s >= 0 && s < LASTS ? 0.86 + lean : 1 + 0.002 * (i % 2);
      state += (gas - state) * (1 - Math.exp(-0.05 / constant));
      values[i] = Math.round(1000 * Math.min(2, state)) / 1000;
    }
    return { values, quality: { rate: 20, quantum: 0.001 } };
  };
  const behind = (constant: number, lean = 0): Wish => ({
    more: {
      'lambda.bank1': sensor(constant, lean),
      fuelCut: (t: number) => (cut(t) ? 1 : 0),
      pedalPosition: {
        values: (t: number) => {
          const s = t < FIRST ? -1 : (t - FIRST) % PERIOD;
          return t < 5 || cut(t) ? 0 : s >= 0 && s < LASTS ? 100 : 18 + (Math.round(t) % 3);
        },
        quality: { rate: 20 },
      },
    },
  });

  it('the tail of a slow sensor is no lean engine, and its bank is not called right', () => {
    const result = judged(behind(2));
    expect(result.outcome).toBe('unproven');
    expect(result.outcome === 'unproven' && result.summary).toMatch(
      /The sensor of bank 1 takes \d\.\d s to rise to air/,
    );
  });

  it('a quick sensor tells beside cuts: right, and lean', () => {
    expect(told(behind(0.12))).toBe('clear');
    expect(told(behind(0.12, 0.14))).toBe('stop');
  });

  it('what a slow sensor comes to rest at is found', () => {
    expect(told(behind(0.8, 0.14))).toBe('stop');
  });
});
