import { describe, expect, it } from 'vitest';
import { crankedVoltage } from '../../../../../scripts/simulate/electrics.js';
import { CRANK_VOLTAGES } from '../../../src/derived/crank-voltage.js';
import { isRefusal } from '../../../src/derived/recipe.js';
import { charging } from '../../../src/rules/electrical/charging.js';
import { CRANK_LIMITS, crankLimit } from '../../../src/rules/electrical/charging-crank.js';
import type { Limit } from '../../../src/rules/rule.js';
import { hasValidation, sharedText, WHERE } from '../../math/published.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const table = Object.fromEntries(CRANK_LIMITS.map((limit) => [limit.name, limit as Limit]));

interface Wish {
  /** V with the engine running, by time. */
  readonly volts?: (t: number) => number;
  /** V while cranking; a start is in the drive when set. */
  readonly crank?: number;
  readonly ambient?: number;
  readonly rpm?: (t: number) => number;
  readonly rate?: number;
  readonly voltRate?: number;
  readonly seconds?: number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Steps of 0.01 V that never stand still, as a converter's last digit does. */
const wobble = (t: number, rate: number) => 0.01 * (Math.round(t * rate) % 2);

/** Optional start at 5 s (1 s of cranking, inrush down to 7.5 V for 80 ms), then a drive at 2000 rpm. */
function drive(wish: Wish = {}) {
  const { volts = () => 14.1, crank, ambient = 21, rate = 20, seconds = 240, more = {}, without = [], limits } = wish;
  const voltRate = wish.voltRate ?? rate;
  const held = (t: number) => Math.floor(t * voltRate + 1e-9) / voltRate;
  const speed = (t: number) => {
    if (crank !== undefined && t < 5) return 0;
    if (crank !== undefined && t < 6 - 1e-9) return 200 + (Math.round(t * rate) % 3);
    return (wish.rpm?.(t) ?? 2000) + (Math.round(t * rate) % 3);
  };
  const battery = (t: number) => {
    if (crank !== undefined && t < 5) return 12.4;
    if (crank !== undefined && t < 5.08) return 7.5;
    if (crank !== undefined && t < 6 - 1e-9) return crank;
    return volts(t);
  };
  const signals: Record<string, Signal> = {
    engineSpeed: { values: speed, quality: { rate } },
    systemVoltage: { values: (t) => battery(held(t)) + wobble(held(t), voltRate), quality: { rate: voltRate } },
    vehicleSpeed: { values: (t) => (t < 10 ? 0 : 60 + (Math.round(t * rate) % 2)), quality: { rate } },
    ambientTemperature: { values: () => ambient, quality: { rate: 1 } },
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(seconds, rate), signals, car(limits === undefined ? {} : { limits }));
}
const judged = (wish?: Wish) => runRule(charging, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
const during = (from: number, seconds: number, value: number, else_ = 14.1) => ({
  volts: (t: number) => (t >= from && t < from + seconds - 1e-9 ? value : else_),
});

describe('a voltage that stands still but for its noise', () => {
  it.each([12.1, 14.1])('%f V: highest is not below usual, nor usual below lowest', (level) => {
    const volts = (t: number) => level + 0.05 * Math.sin(7 * t) + 0.03 * Math.sin(23 * t);
    const result = judged({ volts });
    expect(result.outcome).toBe(level < 13 ? 'finding' : 'clear');
    const { measures } = result as { measures?: Record<string, { value: number }> };
    expect(measures!.highest!.value).toBeGreaterThanOrEqual(measures!.usual!.value);
    expect(measures!.usual!.value).toBeGreaterThanOrEqual(measures!.lowest!.value);
    if (level > 13) return;
    const [, over, most] = /charge: ([\d.]+) V over .* never more than ([\d.]+) V/.exec(result.summary)!;
    expect(Number(most)).toBeGreaterThanOrEqual(Number(over));
  });
});

describe('the published load-test table', () => {
  // BCI Battery Service Manual (from memory); the warm row stands in ../shared/validation/rules-of-thumb.csv as well.
  it.each([
    [21, 9.6],
    [10, 9.4],
    [-1, 9.1],
    [-18, 8.5],
    [35, 9.6],
  ])('%d degC: %f V', (temperature, volts) => {
    expect(crankLimit(temperature, table)?.value).toBeCloseTo(volts, 12);
  });

  // Rows of the same table between ours (60, 40, 20, 10 degF: 9.5, 9.3, 8.9, 8.7 V; from memory).
  it.each([
    [15.6, 9.5],
    [4.4, 9.3],
    [-6.7, 8.9],
    [-12.2, 8.7],
  ])('between the rows, %f degC: %f V within half a step', (temperature, volts) => {
    expect(Math.abs(crankLimit(temperature, table)!.value - volts)).toBeLessThan(0.06);
  });

  it('says nothing below its cold end', () => expect(crankLimit(-18.1, table)).toBeUndefined());

  it.skipIf(!hasValidation)(`9.6 V at 21 degC as in the validation table (BCI)${WHERE}`, () => {
    const row = sharedText('validation/rules-of-thumb.csv')
      .split(/\r?\n/)
      .find((line) => line.startsWith('cranking,'));
    const [, volts, degrees] = /([\d.]+) V at (\d+) degC/.exec(row ?? '') ?? [];
    expect(crankLimit(Number(degrees), table)?.value).toBe(Number(volts));
  });
});

describe('charging limits, exactly on each and one step either side', () => {
  // 0.1 V of tolerance and steps of 0.01 V: a guard of 0.095 V.
  it.each([
    [12.4, 'unproven'],
    [12.31, 'unproven'],
    [12.29, 'repair'],
    [11.9, 'repair'],
    [11.8, 'repair'],
    [11.71, 'repair'],
    [11.68, 'stop'],
    [15.2, 'clear'],
    [15.28, 'clear'],
    [15.31, 'watch'],
    [15.8, 'watch'],
    [15.91, 'stop'],
  ])('%f V all the time: %s', (value, outcome) => {
    expect(told({ volts: () => value })).toBe(outcome);
  });

  it('low takes a minute above 1500 rpm', () => {
    const rpm = (until: number) => (t: number) => (t < until ? 1900 : 1200);
    expect(told({ volts: () => 12.2, rpm: rpm(59.5) })).toBe('unproven');
    expect(told({ volts: () => 12.2, rpm: rpm(61) })).toBe('repair');
  });

  it('low, but 13.3 V was reached for two seconds: charged by demand', () => {
    expect(told({ volts: (t) => (t > 100 && t < 103 ? 13.4 : 12.2) })).toBe('clear');
    expect(told({ volts: (t) => (t > 100 && t < 101 ? 13.4 : 12.2) })).toBe('repair');
  });

  it('ten seconds, not nine', () => {
    expect(told(during(100, 9, 16.2))).toBe('clear');
    expect(told(during(100, 10.5, 16.2))).toBe('stop');
    expect(told(during(100, 9, 11.5))).toBe('clear');
    expect(told(during(100, 10.5, 11.5))).toBe('stop');
  });

  it("takes the user's limits and shows them as the user's", () => {
    const limits = { 'electrical.charging': { 'high-watch': { value: 14, unit: 'V' } } };
    const result = judged({ volts: () => 14.3, limits });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.outcome === 'finding' && result.limits.find(({ name }) => name === 'high-watch')).toMatchObject({
      source: 'profile',
      value: 14,
    });
  });
});

describe('the crank plateau', () => {
  it('is the median after the inrush, with its uncertainty', () => {
    const cranks = drive({ crank: 10.2 }).derive(CRANK_VOLTAGES);
    if (isRefusal(cranks)) throw new Error(cranks.reason);
    expect(cranks.plateaus).toHaveLength(1);
    const [plateau] = cranks.plateaus;
    expect(plateau!.voltage).toBeCloseTo(10.2, 1);
    expect(plateau!.u).toBeGreaterThan(0.17);
    expect(plateau!.u).toBeLessThan(0.2);
    expect(plateau!.temperatureSource).toBe('ambientTemperature');
  });

  // Guard: 0.3 V / sqrt(3) x 1.645 = 0.285 V, and more where the table is steep and the battery's temperature not known.
  it.each([
    [21, 9.6, 'clear'],
    [21, 9.35, 'clear'],
    [21, 9.25, 'watch'],
    [-1, 9.1, 'clear'],
    [-1, 8.8, 'clear'],
    [-1, 8.6, 'watch'],
    [-30, 7, 'clear'],
  ])('at %d degC %f V: %s', (ambient, crank, outcome) => {
    expect(told({ crank, ambient })).toBe(outcome);
  });

  it('the cold sag of a sound battery is no fault, the same voltage on a warm day is', () => {
    const cold = crankedVoltage(0.85, 1.45, -15);
    expect(told({ crank: cold, ambient: -15 })).toBe('clear');
    expect(told({ crank: cold, ambient: 25 })).toBe('watch');
  });

  it('takes three fresh samples, not a rate: a long start shows a dying battery in a slow log', () => {
    expect(told({ crank: 8, voltRate: 4 })).toBe('watch');
    expect(told({ crank: 10.4, voltRate: 4 })).toBe('clear');
    expect(told({ crank: 8, rate: 5 })).toBe('watch');
  });

  it('too few samples: not judged, said in the summary, with the channel and its rate', () => {
    const result = judged({ crank: 8, voltRate: 2 });
    expect(result.outcome).toBe('clear');
    expect(result.summary).toContain('whether the battery carries a start was not judged');
    expect(JSON.stringify(result)).toContain('systemVoltage at >= 10 Hz');
    expect(JSON.stringify(judged({ crank: 8, rate: 2 }))).toContain('engineSpeed at >= 10 Hz');
    expect(judged().summary).toContain('no start of the engine is in the recording');
    expect(judged({ crank: 10.4 }).summary).not.toContain('not judged');
  });

  it('a speed that is only held does not lengthen the start', () => {
    // Speed comes once a second: the last crank speed stands while the engine runs already.
    const engineSpeed: Signal = {
      values: (t) => (t < 5 ? 0 : t < 6 ? 220 : 900 + Math.floor(t)),
      quality: { rate: 1 },
    };
    const systemVoltage: Signal = {
      values: (t) => (t < 5 ? 12.4 : t < 5.15 ? 8 : 12.9) + wobble(t, 20),
      quality: { rate: 20 },
    };
    expect(told({ crank: 8, more: { engineSpeed, systemVoltage } })).not.toBe('watch');
  });

  it('without a temperature outside, a cold engine tells', () => {
    const more = { coolantTemperature: { values: () => -10, quality: { rate: 1 } } };
    expect(told({ crank: 8.7, without: ['ambientTemperature'], more })).toBe('clear');
    expect(told({ crank: 7.9, without: ['ambientTemperature'], more })).toBe('watch');
  });
});

describe('what must not fool it', () => {
  it('charge controlled by demand', () => {
    expect(told({ volts: (t) => (t % 60 < 50 ? 12.35 : 14.9) })).toBe('clear');
    const alternatorVoltageTarget = { values: () => 12.2, quality: { rate: 10 } };
    expect(told({ volts: () => 12.2, more: { alternatorVoltageTarget } })).toBe('unproven');
  });

  it('dips, spikes and gaps', () => {
    expect(told({ volts: (t) => (t % 40 < 2 ? 10.8 : t % 40 > 38 ? 17 : 14.2) })).toBe('clear');
    expect(told({ volts: (t) => (t > 40 && t < 200 ? Number.NaN : 14.2) })).toBe('clear');
  });

  it('a minute of gap is no minute of low voltage', () => {
    expect(told({ volts: (t) => (t < 45 || t > 200 ? 12.1 : Number.NaN), seconds: 210 })).toBe('unproven');
  });

  it('another voltage under the same name, and one that never moves', () => {
    expect(judged({ volts: () => 4.6 })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['systemVoltage'] },
    });
    const systemVoltage = { values: () => 14, quality: { rate: 10 } };
    expect(told({ more: { systemVoltage } })).toBe('unproven');
  });
});

describe('what is missing', () => {
  it('too slow for ten seconds', () => {
    expect(judged({ rate: 0.2, seconds: 600 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['systemVoltage at >= 0.3 Hz'] },
    });
  });

  it('an engine that only idled', () => {
    expect(judged({ rpm: () => 800 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('above 1500 rpm'), expect.stringContaining('a start')] },
    });
  });

  it('several drives: any that charges shows that it does; any start counts', () => {
    const low = drive({ volts: () => 12.2 });
    expect(runRule(charging, [low, low])).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(runRule(charging, [low, drive()])).toMatchObject({ outcome: 'clear' });
    expect(runRule(charging, [drive(), drive({ crank: 8.4 })])).toMatchObject({
      outcome: 'finding',
      severity: 'watch',
    });
  });
});
