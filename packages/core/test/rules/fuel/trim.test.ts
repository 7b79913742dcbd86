import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Drive } from '../../../src/derived/recipe.js';
import { totalTrim } from '../../../src/derived/total-trim.js';
import { openDrive } from '../../../src/engine/drive.js';
import { load } from '../../../src/engine/load.js';
import { fuelTrim } from '../../../src/rules/fuel/trim.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Regimes {
  readonly idle?: number;
  readonly cruise?: number;
  readonly load?: number;
}

const RATED = car({ engine: { ratedTorque: 600 } });
/** Seconds: idle until 120, cruise until 300, load until 420, idle again until 480. */
const LENGTH = 480;
const phaseAt = (t: number): keyof Regimes => (t < 120 || t >= 420 ? 'idle' : t < 300 ? 'cruise' : 'load');

/** Short trim that hunts by one J1979 step around 0, in closed loop. */
const hunting = (t: number): number => [-0.78125, 0, 0.78125, 0][Math.floor(t) % 4]!;

/** Warm drive through all three regimes; the long trims carry the fault, as learned values do. */
function drive(
  banks: readonly Regimes[],
  more: Record<string, Signal> = {},
  vehicle: Vehicle = RATED,
  rate = 5,
): Drive {
  const signals: Record<string, Signal> = {
    coolantTemperature: () => 90,
    engineSpeed: (t) => ({ idle: 750, cruise: 2000, load: 2800 })[phaseAt(t)] + 10 * Math.sin(t),
    vehicleSpeed: (t) => ({ idle: 0, cruise: 80, load: 110 })[phaseAt(t)],
    pedalPosition: (t) => ({ idle: 0, cruise: 18, load: 45 })[phaseAt(t)] + (t > 479 ? 100 : 0),
    engineTorque: (t) => ({ idle: 40, cruise: 120, load: 330 })[phaseAt(t)] + 3 * Math.sin(t),
    purgeDuty: (t) => 10 + (Math.floor(t) % 5),
    ...more,
  };
  banks.forEach((bank, k) => {
    signals[`fuelTrimLong.bank${k + 1}`] ??= (t) => (bank[phaseAt(t)] ?? 0) + (Math.floor(t / 10) % 2) * 0.01;
    signals[`fuelTrimShort.bank${k + 1}`] ??= hunting;
  });
  return driveOf(clock(LENGTH, rate), signals, vehicle);
}

const judged = (banks: readonly Regimes[], more: Record<string, Signal> = {}, vehicle: Vehicle = RATED) =>
  runRule(fuelTrim, drive(banks, more, vehicle));

const everywhere = (value: number): Regimes => ({ idle: value, cruise: value, load: value });

describe('arithmetic', () => {
  it('multiplies the trims: +10 % and +10 % is +21 % (identity), -10 and +10 is -1', () => {
    expect(totalTrim(10, 10)).toBeCloseTo(21, 9);
    expect(totalTrim(-10, 10)).toBeCloseTo(-1, 9);
    expect(totalTrim(Number.NaN, 0)).toBeNaN();
  });

  it('reports the total per regime and bank', () => {
    const result = judged([
      { idle: 4, cruise: 2, load: -3 },
      { idle: 1, cruise: 0.5, load: 2 },
    ]);
    expect(result.outcome).toBe('clear');
    if (result.outcome !== 'clear') return;
    const { measures } = result;
    for (const [name, value] of Object.entries({
      'idle.bank1': 4,
      'cruise.bank1': 2,
      'load.bank1': -3,
      'idle.bank2': 1,
      'cruise.bank2': 0.5,
      'load.bank2': 2,
    })) {
      expect(measures[name]?.unit).toBe('%');
      expect(Math.abs(Number(measures[name]?.value) - value)).toBeLessThan(0.1);
    }
  });
});

describe('limits, exactly on each and one step either side', () => {
  // One step of a trim is 0.78 points; the guard band of a steady median is about 0.4.
  it.each(['idle', 'cruise', 'load'] as const)('watch and repair at %s, lean and rich', (regime) => {
    for (const sign of [1, -1]) {
      const at = (value: number) => judged([{ [regime]: sign * value }]);
      expect(at(9.22)).toMatchObject({ outcome: 'clear' });
      expect(at(10)).toMatchObject({ outcome: 'clear' });
      expect(at(10.78)).toMatchObject({ outcome: 'finding', severity: 'watch' });
      expect(at(14.22)).toMatchObject({ outcome: 'finding', severity: 'watch' });
      expect(at(15)).toMatchObject({ outcome: 'finding', severity: 'watch' });
      expect(at(15.78)).toMatchObject({ outcome: 'finding', severity: 'repair' });
    }
  });

  it('stop only under load, lean, from 20 %, with lambda lean of target or the trim at its end', () => {
    const lambda = (error: number): Record<string, Signal> => ({
      lambda: (t) => (phaseAt(t) === 'load' ? 1 + error : 1) + 0.001 * Math.sin(t),
    });
    const at = (load: number, error: number) => judged([{ idle: 1, cruise: 8, load }], lambda(error));
    expect(at(21, 0)).toMatchObject({ severity: 'repair' });
    expect(at(21, 0.02)).toMatchObject({ severity: 'repair' });
    expect(at(21, 0.04)).toMatchObject({ severity: 'stop' });
    expect(at(19.2, 0.04)).toMatchObject({ severity: 'repair' });
    expect(judged([{ idle: 21, cruise: 8, load: 3 }], { lambda: () => 1.1 })).toMatchObject({ severity: 'repair' });
    const pinned = judged([{ idle: 1, cruise: 2, load: 3 }], {
      fuelTrimShort: () => Number.NaN,
      'fuelTrimShort.bank1': (t) =>
        phaseAt(t) === 'load' ? 25 - (Math.floor(t) % 10 === 0 ? 0.78125 : 0) : hunting(t),
    });
    expect(pinned).toMatchObject({ outcome: 'finding', severity: 'stop' });
  });

  it('watch when the banks are more than 6 points apart over 60 s each', () => {
    const apart = (points: number) => judged([{ ...everywhere(points / 2) }, { ...everywhere(-points / 2) }]);
    expect(apart(5.2)).toMatchObject({ outcome: 'clear' });
    expect(apart(6)).toMatchObject({ outcome: 'clear' });
    const found = apart(6.9);
    expect(found).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(found.summary).toContain('one bank');
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const own = car({ engine: { ratedTorque: 600 }, limits: { 'fuel.trim': { watch: { value: 12, unit: '%' } } } });
    expect(judged([{ idle: 11.5 }], {}, own)).toMatchObject({
      outcome: 'clear',
      limits: [{ name: 'watch', value: 12, source: 'profile' }, {}, {}, {}, {}],
    });
    expect(judged([{ idle: 11.5 }])).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });
});

describe('patterns rank the causes', () => {
  const first = (banks: readonly Regimes[], more: Record<string, Signal> = {}) => {
    const result = judged(banks, more);
    if (result.outcome !== 'finding') throw new Error(`expected a finding, got ${result.outcome}: ${result.summary}`);
    return {
      cause: result.causes?.[0] ?? '',
      all: (result.causes ?? []).join('; '),
      summary: result.summary,
      advice: result.advice ?? [],
    };
  };
  it.each([
    ['vacuum leak', { idle: 16, cruise: 5, load: 1 }, /drawn in behind the air meter/],
    ['fuel delivery', { idle: 1, cruise: 8, load: 17 }, /fuel delivery/],
    ['air meter', everywhere(13), /air meter reads low/],
    ['tank ventilation', { idle: -16, cruise: -4, load: -1 }, /tank ventilation/],
    ['charge-air leak', { idle: 0, cruise: -4, load: -16 }, /charge air escapes/],
    ['leak on the pressure side', { idle: 12, cruise: 0, load: -12 }, /draws air at idle, loses it under boost/],
  ])('%s', (_name, regimes, cause) => {
    const { cause: found, advice } = first([regimes as Regimes]);
    expect(found).toMatch(cause);
    expect(advice.length).toBeGreaterThan(1);
  });

  it('an exhaust leak before the sensor reads as an air leak does: named with it, and the test that parts them', () => {
    const { all, advice } = first([{ idle: 16, cruise: 5, load: 1 }]);
    expect(all).toContain('exhaust leak before the lambda sensor');
    expect(advice.join(' ')).toContain('of the exhaust ahead of the sensors');
    expect(
      first([
        { idle: 16, cruise: 5, load: 1 },
        { idle: 0, cruise: 0, load: 0 },
      ]).all,
    ).toContain('exhaust leak');
  });

  it('does not call off in cruise alone everywhere', () => {
    const { summary } = first([{ idle: 1, cruise: 17, load: 0 }]);
    expect(summary).toContain('lean at cruise');
    expect(summary).not.toContain('everywhere');
  });

  it('one bank only, both alike, crosswise', () => {
    expect(first([everywhere(13), everywhere(0)]).cause).toMatch(/on that bank/);
    // What both banks share is no reason for one.
    expect(first([everywhere(13), everywhere(0)]).all).not.toMatch(/ethanol|fuel pressure|filled last/);
    expect(first([everywhere(13), everywhere(0)]).summary).toContain('bank 1 only');
    expect(first([everywhere(13), everywhere(13)]).summary).toContain('both banks');
    expect(first([everywhere(16), everywhere(-16)]).cause).toMatch(/crosswise/);
  });

  it('says which ethanol content would explain a uniform lean trim', () => {
    expect(first([everywhere(13)]).all).toMatch(/about 2[0-9] % by volume|about 3[0-9] % by volume/);
  });

  it('carries the evidence: when, which regime, which bank', () => {
    const result = judged([{ idle: 16 }]);
    expect(result).toMatchObject({
      events: [{ input: 0, severity: 'repair', regime: 'idle', bank: 'bank1', peak: { unit: '%' } }],
    });
  });
});

describe('what must not fool it', () => {
  const healthy = everywhere(1.5);
  const silent = (more: Record<string, Signal>, vehicle: Vehicle = RATED) =>
    expect(judged([healthy], more, vehicle)).toMatchObject({ outcome: 'clear' });

  it('open loop and cold engine', () => {
    silent({
      fuelSystemStatus: (t) => (t < 60 ? 1 : 2),
      'fuelTrimLong.bank1': (t) => (t < 60 ? 25 : 1.5) + (Math.floor(t / 10) % 2) * 0.01,
    });
    silent({
      coolantTemperature: (t) => Math.min(90, 20 + t),
      'fuelTrimLong.bank1': (t) => (t < 49 ? 25 : 1.5) + (Math.floor(t / 10) % 2) * 0.01,
    });
  });

  it('high purge and the first minute after codes were cleared', () => {
    silent({
      purgeDuty: (t) => (t > 150 && t < 260 ? 80 : 5),
      'fuelTrimShort.bank1': (t) => hunting(t) + (t > 150 && t < 260 ? -18 : 0),
    });
    silent({
      timeSinceClear: (t) => Math.floor(t / 60),
      'fuelTrimShort.bank1': (t) => hunting(t) + (t < 60 ? 22 : 0),
    });
  });

  it('fuel cut and the three seconds after it', () => {
    // Cruise with an overrun of 4 s every 8.6 s: the trim runs away in the cut and for nearly 3 s after it.
    const cut = (t: number) => phaseAt(t) === 'cruise' && t % 8.6 < 4;
    const result = judged([healthy], {
      injectionTime: (t) => (cut(t) ? 0 : 3 + 0.1 * Math.sin(t)),
      pedalPosition: (t) => (cut(t) ? 0 : { idle: 0, cruise: 18, load: 45 }[phaseAt(t)]),
      'fuelTrimShort.bank1': (t) => hunting(t) + (phaseAt(t) === 'cruise' && t % 8.6 < 6.95 ? 20 : 0),
    });
    if (result.outcome !== 'clear') throw new Error(`expected clear, found ${result.outcome}: ${result.summary}`);
    expect(Math.abs(Number(result.measures['cruise.bank1']?.value))).toBeLessThan(3);
  });

  it('ethanol that the profile names; but not a leak beside it, nor where the control unit corrects for it', () => {
    const e85 = car({ engine: { ratedTorque: 600, fuel: 'E85' } });
    expect(judged([everywhere(44)], {}, e85)).toMatchObject({ outcome: 'clear' });
    expect(judged([everywhere(44)])).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(judged([{ idle: 44, cruise: 20, load: 15 }], {}, e85)).toMatchObject({ outcome: 'finding' });
    expect(judged([everywhere(44)], { ethanolContent: (t) => 80 + 0.1 * Math.sin(t) }, e85)).toMatchObject({
      outcome: 'finding',
    });
    expect(judged([everywhere(12)], {}, car({ engine: { ratedTorque: 600, fuel: 'E10' } }))).toMatchObject({
      outcome: 'finding',
    });
  });

  it('fuel vapour from the oil: rich idle that fades as the oil gets hot', () => {
    const fading: Record<string, Signal> = {
      engineOilTemperature: (t) => Math.min(100, 50 + t / 2),
      'fuelTrimShort.bank1': (t) => hunting(t) - (t < 60 ? 16 : 0),
    };
    silent(fading);
    silent({ 'fuelTrimShort.bank1': fading['fuelTrimShort.bank1']! });
    // Oil never hot: rich idle is neither a finding nor shown to be well.
    expect(judged([{ idle: -14 }], { engineOilTemperature: (t) => 40 + t / 30 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['warm idle >= 30 s with engine oil >= 80 °C'] },
    });
    expect(judged([{ idle: -14 }], { engineOilTemperature: (t) => 85 + t / 100 })).toMatchObject({
      outcome: 'finding',
    });
  });
});

describe('what is not proven', () => {
  it('all long-term trims exactly 0: reset; a finding stands at lower confidence', () => {
    const reset = judged([{}], { 'fuelTrimLong.bank1': () => 0 });
    expect(reset).toMatchObject({ outcome: 'unproven' });
    expect(reset.summary).toContain('reset');
    const lean: Record<string, Signal> = { 'fuelTrimShort.bank1': (t) => 17 + hunting(t) };
    const found = judged([{}], { ...lean, 'fuelTrimLong.bank1': () => 0 });
    const learned = judged([{}], lean);
    expect(found).toMatchObject({ outcome: 'finding', severity: 'repair' });
    if (found.outcome === 'finding' && learned.outcome === 'finding')
      expect(found.confidence).toBeLessThan(learned.confidence);
  });

  it('names the regime that is missing', () => {
    const onlyCruise = driveOf(
      clock(200, 5),
      {
        coolantTemperature: () => 90,
        engineSpeed: (t) => 2000 + Math.sin(t),
        vehicleSpeed: () => 80,
        pedalPosition: (t) => (t < 5 ? 0 : 18 + Math.sin(t)),
        engineTorque: (t) => 120 + Math.sin(t),
        'fuelTrimShort.bank1': hunting,
        'fuelTrimLong.bank1': (t) => 2 + (Math.floor(t) % 2) * 0.01,
      },
      RATED,
    );
    expect(runRule(fuelTrim, onlyCruise)).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['warm idle >= 30 s'] },
    });
  });

  it('long-term trim alone is judged at lower confidence, short-term alone not at all', () => {
    const { fuelTrimShort: _none, ...withoutShort } = { fuelTrimShort: 0 };
    const long = driveOf(
      clock(LENGTH, 5),
      {
        ...Object.fromEntries(
          [...drive([{ idle: 2, cruise: 1, load: 3 }]).recording.channels]
            .filter(([id]) => !id.startsWith('fuelTrimShort'))
            .map(([id, channel]) => [id, channel.values]),
        ),
        ...withoutShort,
      },
      RATED,
    );
    const alone = runRule(fuelTrim, long);
    const both = judged([{ idle: 2, cruise: 1, load: 3 }]);
    if (alone.outcome !== 'clear' || both.outcome !== 'clear') throw new Error('expected clear');
    expect(alone.confidence).toBeLessThan(both.confidence);
    expect(alone.notes?.join(' ')).toContain('judged alone');
    const short = driveOf(clock(60, 5), { 'fuelTrimShort.bank1': hunting, coolantTemperature: () => 90 }, RATED);
    expect(runRule(fuelTrim, short)).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['fuelTrimLong.bank1'] },
    });
  });

  it('works at 1 Hz, and needs 30 s of a regime', () => {
    expect(runRule(fuelTrim, drive([{ idle: 16 }], {}, RATED, 1))).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
    });
    const brief = judged([{ load: 18 }], { fuelSystemStatus: (t) => (phaseAt(t) === 'load' && t > 328 ? 4 : 2) });
    expect(brief).toMatchObject({ outcome: 'clear' });
    const enough = judged([{ load: 18 }], { fuelSystemStatus: (t) => (phaseAt(t) === 'load' && t > 331 ? 4 : 2) });
    expect(enough).toMatchObject({ outcome: 'finding' });
  });
});

const logs = new URL('../../../../../../shared/data/carobd/', import.meta.url);
describe.skipIf(!existsSync(logs))(
  'open recordings of one petrol car (carOBD, see SOURCE.md; trims -20..+20 and -9..+7 in all files)',
  () => {
    it.each([
      ['idle1.csv', 'unproven', ['idle.bank1']],
      ['drive5.csv', 'unproven', []],
      ['live6.csv', 'clear', ['cruise.bank1', 'idle.bank1']],
    ])('%s: %s, no false finding', async (name, outcome, shown) => {
      const { report, recording } = await load({ name, source: new Uint8Array(readFileSync(new URL(name, logs))) });
      expect(report.error).toBeUndefined();
      const result = runRule(fuelTrim, openDrive(recording!, car(), 0));
      expect(result.outcome).toBe(outcome);
      const measures = 'measures' in result ? (result.measures ?? {}) : {};
      expect(Object.keys(measures).sort()).toEqual(shown);
      for (const { value } of Object.values(measures)) expect(Math.abs(Number(value))).toBeLessThan(5);
    });
  },
);
