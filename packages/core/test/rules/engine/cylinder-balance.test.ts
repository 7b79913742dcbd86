import { describe, expect, it } from 'vitest';
import { cylinderBalance } from '../../../src/rules/engine/cylinder-balance.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** Cylinder 1 first: what each shows more than the common level. */
  readonly correction?: readonly number[];
  readonly exhaust?: readonly number[];
  readonly roughness?: readonly number[];
  /** degC of the exhaust, by seconds. */
  readonly gas?: (t: number) => number;
  readonly seconds?: number;
  readonly hz?: number;
  readonly coolant?: (t: number) => number;
  readonly more?: Record<string, Signal>;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
  readonly input?: number;
}
const STANDS = 60;

/** Cruise, then a minute of idle. */
function drive({
  correction,
  exhaust,
  roughness,
  gas = (t) => (t < STANDS ? 720 + 40 * Math.sin(t / 3) : 420),
  seconds = 120,
  hz = 10,
  coolant = (t) => 90 + (t % 2 < 1 ? 0 : 1),
  more = {},
  limits,
  input,
}: Wish) {
  const signals: Record<string, Signal> = {};
  const family = (id: string, apart: readonly number[] | undefined, level: (t: number, c: number) => number) =>
    apart?.forEach((x, c) => {
      signals[`${id}.cylinder${c + 1}`] = { values: (t) => level(t, c) + x, quality: { quantum: 0.1 } };
    });
  // Noise of each column of its own, in phase with nothing.
  const noise = (t: number, c: number) => Math.sin(7.3 * t + 2 * c) + Math.sin(17.9 * t * (1 + c / 10));
  family('injectorCorrection', correction, (t, c) => 0.1 * noise(t, c));
  family('exhaustGasTemperature', exhaust, (t, c) => gas(t) + noise(t, c));
  family('engineRoughness', roughness, (t, c) => 1 + 0.05 * noise(t, c));
  return driveOf(
    clock(seconds, hz),
    {
      engineSpeed: (t) => (t < STANDS ? 2200 : 780) + 3 * Math.sin(11 * t),
      vehicleSpeed: (t) => (t < STANDS ? 80 + Math.sin(t) : 0),
      pedalPosition: (t) => (t < 2 ? 88 : t < STANDS ? 30 + Math.sin(t) : 15),
      coolantTemperature: { values: coolant },
      ...signals,
      ...more,
    },
    car({ engine: { cylinders: 6 }, ...(limits === undefined ? {} : { limits }) }),
    input,
  );
}
const judged = (wish: Wish) => runRule(cylinderBalance, drive(wish));
const told = (wish: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
/** Six cylinders, the third of them apart. */
const third = (x: number, n = 6) => Array.from({ length: n }, (_v, c) => (c === 2 ? x : 0));

describe('limits', () => {
  // Half a percent, and 8 K, of tolerance between two sensors: bounds 0.48 % and 7.6 K below the reading.
  it.each([
    [4.9, 'clear'],
    [5, 'clear'],
    [5.7, 'watch'],
    [-5.7, 'watch'],
    [10, 'watch'],
    [10.7, 'repair'],
    [-10.7, 'repair'],
  ])('%f % of fuel correction', (x, outcome) => {
    expect(told({ correction: third(x) })).toBe(outcome);
  });

  it.each([
    [39, 'clear'],
    [41, 'clear'],
    [50, 'watch'],
    [-50, 'watch'],
    [80, 'watch'],
    [90, 'repair'],
    [-90, 'repair'],
  ])('exhaust %f K apart', (x, outcome) => {
    expect(told({ exhaust: third(x) })).toBe(outcome);
  });

  it('a second sign of the same cylinder makes it one level worse', () => {
    expect(told({ correction: third(6), roughness: third(2) })).toBe('repair');
    expect(told({ correction: third(6), roughness: [2, 0, 0, 0, 0, 0] })).toBe('watch');
    expect(told({ correction: third(12), exhaust: third(100) })).toBe('stop');
    expect(told({ correction: third(6), exhaust: third(25) })).toBe('watch');
  });

  it('says "near the limit", the cylinder and both signs', () => {
    expect(judged({ correction: third(5.2) }).summary).toContain('near the limit');
    expect(judged({ correction: third(2) }).summary).not.toContain('near');
    const result = judged({ correction: third(12), exhaust: third(-100) });
    expect(result.summary).toMatch(/Cylinder 3 differs .*\+12 % of fuel correction, exhaust 100 K colder/);
    expect(result).toMatchObject({
      measures: { cylinders: { value: [3] } },
      advice: expect.arrayContaining([expect.stringContaining('how the control unit counts its cylinders')]),
    });
  });

  it('takes the limits of the profile', () => {
    const limits = { 'engine.cylinder-balance': { 'exhaust-watch': { value: 60, unit: 'K' } } };
    expect(judged({ exhaust: third(55), limits })).toMatchObject({
      outcome: 'clear',
      limits: [
        { name: 'exhaust-watch', value: 60, source: 'profile' },
        { name: 'exhaust-repair', value: 80 },
      ],
    });
  });

  it('half against half is a bank', () => {
    const result = judged({ exhaust: [60, 60, 60, 0, 0, 0] });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.summary).toContain('Two groups of cylinders');
    expect(JSON.stringify(result)).toContain('bank');
  });
});

describe('what must not fool it', () => {
  it('cylinders that all scatter', () => {
    const spread = [-60, -35, -10, 10, 35, 60];
    expect(told({ exhaust: spread })).toBe('clear');
    expect(told({ correction: [-7, -4, -1, 1, 4, 7] })).toBe('clear');
  });

  it('a unit that was inferred for one column alone', () => {
    // 0.9 % without a unit, read as a factor of 0.9.
    const drives = drive({ correction: [-10, 0, 0, 0, 0, 0] });
    const unit = (inferred: boolean) => ({
      ...drives,
      family: (base: string) =>
        drives.family(base).map((channel, c) => ({
          ...channel,
          sourceUnit: c === 0 ? 'factor' : '%',
          certainty: inferred ? ('inferred' as const) : ('certain' as const),
        })),
      derive: drives.derive.bind(drives),
      channel: drives.channel.bind(drives),
    });
    expect(runRule(cylinderBalance, unit(true))).toMatchObject({
      outcome: 'clear',
      notes: [expect.stringContaining('Left out: cylinder 1')],
    });
    expect(runRule(cylinderBalance, unit(false))).toMatchObject({ outcome: 'finding' });
  });

  it('few comparators', () => {
    expect(judged({ correction: [0, 12] })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: expect.arrayContaining(['>= 3 cylinders recorded']) },
    });
    expect(told({ correction: [0, 0, 12] })).toBe('repair');
  });

  it('transients and spikes: one sensor late, some readings wild', () => {
    const late = (t: number) => 720 + 40 * Math.sin((t - 0.6) / 3);
    const wild = (t: number) => (Math.round(10 * t) % 10 === 3 ? 40 : 0);
    expect(
      told({ exhaust: third(0), more: { 'exhaustGasTemperature.cylinder3': (t) => (t < STANDS ? late(t) : 420) } }),
    ).toBe('clear');
    expect(told({ correction: third(0), more: { 'injectorCorrection.cylinder3': wild } })).toBe('clear');
  });

  it('cold engine, cold exhaust, overrun', () => {
    expect(told({ correction: third(12), coolant: (t) => 20 + t / 4 })).toBe('unproven');
    expect(told({ exhaust: third(90), gas: () => 560 })).toBe('unproven');
    const cut = (t: number) => (t % 10 < 9 ? 1 : 0);
    expect(told({ correction: third(12), more: { fuelCut: cut } })).toBe('unproven');
  });

  it('roughness alone has no limit: a note, and no verdict', () => {
    const result = judged({ roughness: third(3) });
    expect(result).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['injectorCorrection', 'exhaustGasTemperature'] },
      notes: [expect.stringContaining('Cylinder 3 stands apart')],
    });
  });

  it('empty cells: a gap of one column counts for none', () => {
    const gappy = (t: number) => (t > 20 ? Number.NaN : 0);
    expect(told({ correction: third(12, 4), more: { 'injectorCorrection.cylinder1': gappy } })).toBe('repair');
    const empty = (t: number) => (t > 1 ? Number.NaN : 0);
    expect(told({ correction: third(12, 4), more: { 'injectorCorrection.cylinder1': empty } })).toBe('unproven');
  });
});

describe('what is missing', () => {
  it('everything, or time', () => {
    expect(judged({})).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['injectorCorrection', 'exhaustGasTemperature'] },
    });
    // Two seconds at ten a second: fewer than thirty readings.
    expect(told({ correction: third(12), seconds: 2 })).toBe('unproven');
    // Slow readings take longer to be enough.
    expect(told({ correction: third(12), hz: 0.2, seconds: 100 })).toBe('unproven');
    expect(told({ correction: third(12), hz: 0.2, seconds: 300 })).toBe('repair');
  });

  it('several drives are weighed together', () => {
    const one = drive({ correction: third(12) });
    const other = drive({ correction: third(12), input: 1 });
    expect(runRule(cylinderBalance, [one, other])).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
      events: [{ input: 0 }, { input: 1 }],
    });
    expect(runRule(cylinderBalance, [drive({}), other])).toMatchObject({ severity: 'repair', events: [{ input: 1 }] });
    expect(
      runRule(cylinderBalance, [drive({ correction: third(2) }), drive({ exhaust: third(10), input: 1 })]).outcome,
    ).toBe('clear');
  });
});
