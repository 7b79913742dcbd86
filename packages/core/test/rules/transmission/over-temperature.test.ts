import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Drive } from '../../../src/derived/recipe.js';
import { overTemperature } from '../../../src/rules/transmission/over-temperature.js';
import { ageingFactor } from '../../../src/rules/transmission/over-temperature-physics.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const DUAL = car({ transmission: { kind: 'dual-clutch' } });
const CONVERTER = car({ transmission: { kind: 'converter' } });

/** Ten minutes at 90 degC with a plateau of `level` from 300 s for `seconds`; steps of `quantum`. */
function plateau(level: number, seconds: number, quantum = 0.1): (t: number) => number {
  return (t) => {
    const rise = Math.max(0, Math.min(1, (t - 280) / 20));
    const fall = Math.max(0, Math.min(1, (t - 300 - seconds) / 20));
    return Math.round((90 + (level - 90) * (rise - fall)) / quantum) * quantum;
  };
}

function fluid(signal: Signal, vehicle: Vehicle = DUAL, rate = 10, more: Record<string, Signal> = {}): Drive {
  return driveOf(clock(600, rate), { transmissionOilTemperature: signal, ...more }, vehicle);
}

const judged = (signal: Signal, vehicle: Vehicle = DUAL, rate = 10) =>
  runRule(overTemperature, fluid(signal, vehicle, rate));

describe('limits, exactly on each and one step either side', () => {
  // With steps of 0.1 K and 0.5 K of scatter the guard band is 0.48 K: exactly on the limit is near, not beyond.
  it.each([
    [DUAL, 115, undefined, 'watch'],
    [DUAL, 125, 'watch', 'repair'],
    [DUAL, 140, 'repair', 'stop'],
    [CONVERTER, 120, undefined, 'watch'],
    [CONVERTER, 130, 'watch', 'repair'],
    [CONVERTER, 145, 'repair', 'stop'],
  ])('%#: at %s degC', (vehicle, limit, below, above) => {
    for (const level of [limit - 0.1, limit, limit + 0.4]) {
      expect(judged(plateau(level, 30), vehicle)).toMatchObject(
        below === undefined ? { outcome: 'clear' } : { outcome: 'finding', severity: below },
      );
    }
    expect(judged(plateau(limit + 0.6, 30), vehicle)).toMatchObject({ outcome: 'finding', severity: above });
  });

  it.each(['clutch-outlet', 'cooler-inlet'] as const)('judges the %s by its own limits', (fluidPlace) => {
    const vehicle = car({ transmission: { kind: 'dual-clutch', fluidPlace } });
    expect(judged(plateau(150, 30), vehicle)).toMatchObject({ outcome: 'clear' });
    expect(judged(plateau(161, 30), vehicle)).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(judged(plateau(191, 30), vehicle)).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });

  it('takes the place from the header before the profile, and reads the clutch oil by itself', () => {
    expect(judged({ values: plateau(150, 30), place: 'clutch-outlet' })).toMatchObject({ outcome: 'clear' });
    const both = fluid(plateau(100, 30), DUAL, 10, { clutchOilTemperature: plateau(170, 30) });
    expect(runRule(overTemperature, both)).toMatchObject({
      outcome: 'finding',
      severity: 'watch',
      measures: { peak: { value: 170 } },
    });
  });

  it.each([
    [140, { outcome: 'clear' }],
    [165, { outcome: 'finding', severity: 'watch' }],
    [195, { outcome: 'finding', severity: 'repair' }],
  ])('judges clutch oil of %s degC where no sump is recorded', (level, expected) => {
    const drive = driveOf(clock(600, 10), { clutchOilTemperature: plateau(level, 30) }, DUAL);
    expect(runRule(overTemperature, drive)).toMatchObject(expected);
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const limits = { 'transmission.over-temperature': { repair: { value: 248, unit: 'degF' } } };
    const result = judged(plateau(121, 30), car({ transmission: { kind: 'dual-clutch' }, limits }));
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    const shown = result.outcome === 'finding' ? result.limits.find(({ name }) => name === 'repair') : undefined;
    expect(shown).toMatchObject({ unit: 'degC', source: 'profile' });
    expect(shown?.value).toBeCloseTo(120, 9);
    expect(judged(plateau(121, 30))).toMatchObject({ severity: 'watch' });
  });

  it('uses dual-clutch limits when the kind is not known, says so, and is less sure', () => {
    const unknown = judged(plateau(118, 30), car());
    expect(unknown).toMatchObject({ outcome: 'finding', severity: 'watch' });
    if (unknown.outcome !== 'finding') throw new Error('expected a finding');
    expect(unknown.notes?.join(' ')).toContain('dual-clutch limits used');
    const known = judged(plateau(118, 30));
    expect(unknown.confidence).toBeLessThan(known.outcome === 'finding' ? known.confidence : 0);
  });
});

describe('events', () => {
  it('say what is usual for this car and which limit was reached', () => {
    const result = judged((t) => (t >= 500 && t < 530 ? 130 : 95 + (t % 2)));
    const events = 'events' in result ? result.events : [];
    expect(events).toHaveLength(1);
    const [{ peak, usual, limit }] = events as unknown as [Record<string, { value: number }>];
    expect(usual!.value).toBeLessThan(limit!.value);
    expect(peak!.value).toBeGreaterThanOrEqual(limit!.value);
  });

  it('needs two seconds at the limit', () => {
    const pulse = (seconds: number) => (t: number) => (t >= 300 && t < 300 + seconds - 1e-9 ? 118 : 110);
    expect(judged(pulse(1.9))).toMatchObject({ outcome: 'clear', measures: { events: { value: 0 } } });
    expect(judged(pulse(2))).toMatchObject({ outcome: 'finding', measures: { events: { value: 1 } } });
  });

  it('ends an event only five kelvin below the limit', () => {
    const twice = (dip: number) => (t: number) =>
      (t >= 300 && t < 320) || (t >= 330 && t < 350) ? 118 : t >= 320 && t < 330 ? dip : 100;
    expect(judged(twice(110.1))).toMatchObject({ measures: { events: { value: 1 }, dwell: { value: 40 } } });
    expect(judged(twice(109.8))).toMatchObject({ measures: { events: { value: 2 }, dwell: { value: 40 } } });
  });

  it('reports peak, dwell and events as they were made', () => {
    const result = judged(plateau(131.2, 33), DUAL, 20);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair', measures: { events: { value: 1 } } });
    if (result.outcome !== 'finding') throw new Error('expected a finding');
    expect(result.measures.peak?.value).toBeCloseTo(131.2, 6);
    // Ramps of 20 s over 41.2 K: above 115 degC for 16.2 / 41.2 of each, 33 s between them.
    expect(result.measures.dwell?.value).toBeCloseTo(33 + (2 * 20 * 16.2) / 41.2, 0);
    expect(result.events[0]).toMatchObject({ input: 0, severity: 'repair', peak: { unit: 'degC' } });
    expect(result.events[0]?.from).toBeCloseTo(280 + (20 * 25) / 41.2, 0);
    expect(result.summary).toContain('131.2 °C');
    expect(result.confidence).toBeGreaterThan(0.95);
  });

  it('keeps within 1 K of the true peak at 0.5 to 50 Hz with noise and one-degree steps', () => {
    let state = 12345;
    const noise = () => {
      state = (state * 1103515245 + 12345) % 2147483648;
      return (state / 2147483648 - 0.5) * 1.2;
    };
    for (const rate of [0.5, 1, 2, 10, 50]) {
      const result = judged((t) => Math.round(plateau(128, 20)(t) + noise()), DUAL, rate);
      expect(result).toMatchObject({ outcome: 'finding', severity: 'repair', measures: { events: { value: 1 } } });
      if (result.outcome === 'finding')
        expect(Math.abs(Number(result.measures.peak?.value) - 128)).toBeLessThanOrEqual(1);
    }
  });

  it('adds up the drives of a car and names the input', () => {
    const time = clock(600, 10);
    const drives = [plateau(100, 30), plateau(118, 30)].map((values, input) =>
      driveOf(time, { transmissionOilTemperature: values }, DUAL, input),
    );
    const result = runRule(overTemperature, drives);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch', events: [{ input: 1 }] });
  });
});

describe('what must not fool it', () => {
  const silent = (signal: Signal, rate = 10, more: Record<string, Signal> = {}) =>
    expect(runRule(overTemperature, fluid(signal, DUAL, rate, more))).toMatchObject({
      outcome: 'clear',
      measures: { events: { value: 0 } },
    });

  it('range ends of the sensor', () => {
    silent((t) => (t > 200 && t < 230 ? 215 : 95 + t / 100));
    silent((t) => (t > 200 && t < 230 ? -40 : 95 + t / 100));
  });

  it('single-sample spikes at any rate', () => {
    for (const rate of [0.5, 1, 10, 50]) silent((t) => (t === 300 || t === 100 ? 160 : 95 + t / 100), rate);
  });

  it('a spike that a slow logger repeats for a second', () => {
    silent(
      {
        values: (t) => (Math.floor(t) === 300 ? 150 : Math.round(95 + Math.floor(t) / 50)),
        quality: { rate: 1, groupRate: 1 },
      },
      20,
    );
  });

  it('a loose connector: shorter than two seconds it is dropped, longer it is told as a doubt', () => {
    const loose = (seconds: number) => fluid((t) => (t >= 300 && t < 300 + seconds ? 140 : 95 + t / 100));
    const short = runRule(overTemperature, loose(1.5));
    expect(short).toMatchObject({ outcome: 'clear', measures: { events: { value: 0 } } });
    expect(JSON.stringify(short)).toContain('set aside');
    const long = runRule(overTemperature, loose(20));
    const real = judged(plateau(140, 20));
    if (long.outcome !== 'finding' || real.outcome !== 'finding') throw new Error('expected findings');
    expect(long.confidence).toBeLessThan(0.7 * real.confidence);
    expect(long.advice?.[0]).toContain('sensor');
  });

  it('fluid coupled to the coolant at 105 to 110 degC', () => {
    silent((t) => 107.5 + 2.5 * Math.sin(t / 40), 10, {
      coolantTemperature: (t) => 107 + 2 * Math.sin(t / 40),
      vehicleSpeed: (t) => 110 + Math.sin(t),
    });
  });

  it('gaps and empty cells: no time above a limit is made up', () => {
    const gap = fluid((t) => (t > 300 && t < 340 ? Number.NaN : plateau(118, 60)(t)), DUAL, 10);
    const result = runRule(overTemperature, gap);
    expect(result).toMatchObject({ outcome: 'finding', measures: { events: { value: 1 } } });
    if (result.outcome !== 'finding') return;
    // 60 s of plateau and 3.2 s of ramps, less the 40 s gap, of which at most one interval of a second is held.
    expect(result.measures.dwell?.value).toBeGreaterThan(60 + 2 * 20 * (3 / 28) - 41);
    expect(result.measures.dwell?.value).toBeLessThan(60 + 2 * 20 * (3 / 28) - 38);
    silent((t) => (Math.round(t * 10) % 10 === 0 ? 95 + t / 100 : Number.NaN));
  });

  it('a sparse column in a fast log is judged at its own rate', () => {
    const sparse = fluid(
      (t) => (Math.round(t * 20) % 20 === 0 ? Math.round(plateau(128, 20)(t)) : Number.NaN),
      DUAL,
      20,
    );
    expect(runRule(overTemperature, sparse)).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });
});

describe('what is not proven', () => {
  it('a drive that never got warm', () => {
    const result = runRule(
      overTemperature,
      fluid((t) => 20 + t / 20),
    );
    expect(result).toMatchObject({ outcome: 'unproven', measures: { events: { value: 0 } } });
    expect(JSON.stringify(result)).toContain('>= 60 °C for >= 300 s');
  });

  it('five warm minutes are enough, four are not; a finding never needs them', () => {
    const warmFor = (seconds: number) => fluid((t) => (t >= 600 - seconds ? 85 : 50) + t / 1000);
    expect(runRule(overTemperature, warmFor(240))).toMatchObject({ outcome: 'unproven' });
    expect(runRule(overTemperature, warmFor(301))).toMatchObject({ outcome: 'clear' });
    const short = driveOf(clock(40, 10), { transmissionOilTemperature: (t) => 110 + t / 2 }, DUAL);
    expect(runRule(overTemperature, short)).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });

  it('one reading in ten seconds near the limit; 1 Hz is enough', () => {
    expect(judged((t) => 108 + 2 * Math.sin(t / 60), DUAL, 0.1)).toMatchObject({ outcome: 'unproven' });
    expect(judged((t) => 90 + 2 * Math.sin(t / 60), DUAL, 0.1)).toMatchObject({ outcome: 'clear' });
    expect(judged((t) => Math.round(108 + 2 * Math.sin(t / 60)), DUAL, 1)).toMatchObject({ outcome: 'clear' });
  });

  it('a reading that leapt to another level for good, found by the reader of the file', () => {
    const leapt = (quality: object) =>
      driveOf(clock(1000, 5), { transmissionOilTemperature: { values: (t) => 90 + t / 100, quality } }, DUAL);
    expect(runRule(overTemperature, leapt({}))).toMatchObject({ outcome: 'clear' });
    expect(runRule(overTemperature, leapt({ leaps: [200] }))).toMatchObject({
      outcome: 'unproven',
      summary: expect.stringContaining('at 3:20 the reading leapt'),
    });
  });

  it('a sensor that reads the same for fifteen minutes', () => {
    const dead = driveOf(clock(1000, 5), { transmissionOilTemperature: () => 85 }, DUAL);
    expect(runRule(overTemperature, dead)).toMatchObject({ outcome: 'unproven' });
  });

  it('no channel: unproven; a manual gearbox: not applicable, but judged when its fluid was logged', () => {
    const without = (vehicle: Vehicle) =>
      runRule(overTemperature, driveOf(clock(10, 1), { engineSpeed: (t) => t }, vehicle));
    expect(without(DUAL)).toMatchObject({ outcome: 'unproven', missing: { channels: ['transmissionOilTemperature'] } });
    const manual = car({ transmission: { kind: 'manual' } });
    expect(without(manual)).toMatchObject({ outcome: 'not-applicable' });
    const logged = judged(plateau(118, 30), manual);
    expect(logged).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(JSON.stringify(logged)).toContain('Manual gearbox');
  });
});

describe('physics', () => {
  const chart = new URL('../../../../../../shared/validation/atf-life.csv', import.meta.url);
  it.skipIf(!existsSync(chart))(
    "follows the fluid-life chart within 11 % up to 315 degF (rebuilders' trade chart)",
    () => {
      const rows = readFileSync(chart, 'utf8')
        .trim()
        .split('\n')
        .slice(1)
        .map((line) => line.split(',').map(Number));
      expect(rows.length).toBeGreaterThan(10);
      for (const [fahrenheit, , miles, , rule] of rows) {
        const celsius = ((fahrenheit ?? 0) - 32) / 1.8;
        const life = 100000 / ageingFactor(celsius);
        expect(Math.abs(life / (rule ?? 0) - 1)).toBeLessThan(0.015);
        if ((fahrenheit ?? 0) <= 315) expect(Math.abs(life / (miles ?? 0) - 1)).toBeLessThan(0.115);
      }
    },
  );

  it('halves life per 11.1 K and reports hours, never a level', () => {
    expect(ageingFactor(79.4)).toBe(1);
    expect(ageingFactor(90.5)).toBeCloseTo(2, 9);
    const result = judged((t) => 90.5 + (t % 2 === 0 ? 0 : 1e-9));
    expect(result).toMatchObject({ outcome: 'clear' });
    if (result.outcome === 'clear') expect(result.measures.ageing?.value).toBeCloseTo((2 * 600) / 3600, 3);
  });

  it('finds the time constant of cooling and its interval', () => {
    const tau = 140;
    const result = judged((t) => (t < 100 ? 90 + 0.35 * t : 85 + 40 * Math.exp(-(t - 100) / tau)));
    if (result.outcome !== 'finding') throw new Error('expected a finding');
    expect(result.measures.coolingTimeConstant?.value).toBeGreaterThan(tau * 0.93);
    expect(result.measures.coolingTimeConstant?.value).toBeLessThan(tau * 1.07);
    expect(result.measures['coolingTimeConstant.low']?.value).toBeLessThanOrEqual(tau);
    expect(result.measures['coolingTimeConstant.high']?.value).toBeGreaterThanOrEqual(tau);
  });

  it('measures the rise per pull', () => {
    const pedal = (t: number) => (t > 50 && t % 100 < 8 ? 100 : 15);
    const drive = fluid(
      (t) => 85 + Math.min(6, Math.floor(t / 100)) * 3 + 3 * Math.min(1, (t % 100) / 10) - 3 * (t < 100 ? 1 : 0),
      DUAL,
      10,
      {
        pedalPosition: pedal,
        vehicleSpeed: (t) => 60 + (t % 100),
        engineSpeed: (t) => 2000 + 20 * (t % 100),
      },
    );
    const result = runRule(overTemperature, drive);
    if (result.outcome !== 'clear') throw new Error(`expected clear, found ${result.outcome}: ${result.summary}`);
    expect(result.measures.heatingPerPull?.value).toBeCloseTo(3, 1);
    expect(result.summary).toContain('full load included');
  });
});

describe('cooler', () => {
  const motorway = (above: number, speed = 120) =>
    fluid((t) => 88 + above + 0.2 * Math.sin(t), DUAL, 5, {
      coolantTemperature: (t) => 88 + 0.3 * Math.sin(t / 3),
      vehicleSpeed: (t) => speed + Math.sin(t),
    });
  it('watch when the fluid stands more than 20 K above the coolant, less the tolerance of two sensors', () => {
    expect(runRule(overTemperature, motorway(19.9))).toMatchObject({ outcome: 'clear' });
    expect(runRule(overTemperature, motorway(21))).toMatchObject({ outcome: 'clear' });
    const found = runRule(overTemperature, motorway(22.5));
    expect(found).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(found.summary).toContain('cooler');
  });
  it('only on a steady motorway drive, against the limit of the profile when there is one', () => {
    expect(runRule(overTemperature, motorway(24, 60))).toMatchObject({ outcome: 'clear' });
    const limits = { 'transmission.over-temperature': { cooler: { value: 26, unit: 'K' } } };
    const own = car({ transmission: { kind: 'dual-clutch' }, limits });
    const drive = driveOf(
      clock(600, 5),
      {
        transmissionOilTemperature: (t) => 112 + 0.2 * Math.sin(t),
        coolantTemperature: (t) => 88 + 0.3 * Math.sin(t / 3),
        vehicleSpeed: (t) => 120 + Math.sin(t),
      },
      own,
    );
    expect(runRule(overTemperature, drive)).toMatchObject({ outcome: 'clear' });
  });
});
