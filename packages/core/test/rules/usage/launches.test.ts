import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { Drive } from '../../../src/derived/recipe.js';
import { assess as assessFiles } from '../../../src/engine/assess.js';
import type { Result } from '../../../src/engine/assessment.js';
import { launches } from '../../../src/rules/usage/launches.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';
import { FLOORED, LAUNCH, ORDINARY, type Start, startDrive, trueAcceleration } from './launch-drive.js';

function assess(drives: Drive | Drive[]): Result {
  return runRule(launches, drives);
}

function measure(result: Result, name: string): unknown {
  return 'measures' in result ? result.measures?.[name]?.value : undefined;
}

const count = (result: Result): unknown => measure(result, 'launches');
const severity = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);
const confidence = (result: Result): number => ('confidence' in result ? result.confidence : Number.NaN);

/** The start in question between ordinary ones. */
function among(start: Start, options: Parameters<typeof startDrive>[1] = {}): Result {
  return assess(startDrive([ORDINARY, FLOORED, start, ORDINARY], options));
}

describe('usage.launches, what a launch is', () => {
  it('counts none in ordinary starts, and is clear', () => {
    const result = assess(startDrive([ORDINARY, FLOORED, ORDINARY]));
    expect(severity(result)).toBe('clear');
    expect(count(result)).toBe(0);
    expect(confidence(result)).toBeGreaterThan(0.9);
    expect(result.summary).toContain('No launch in 3 starts');
  });

  it('counts a launch with its times and values', () => {
    const result = among(LAUNCH);
    expect(count(result)).toBe(1);
    expect(severity(result)).toBe('clear');
    const event = 'events' in result ? result.events?.[0] : undefined;
    expect(event?.from).toBeCloseTo(140.0, 0);
    const value = (name: string): unknown => (event?.[name] as { value: number } | undefined)?.value;
    // The begin of movement is uncertain by the time to the first sample above standstill: 0.1 s of 5.5 m/s2.
    expect(Math.abs((value('acceleration') as number) - 5.5)).toBeLessThan(0.55);
    expect(value('heldEngineSpeed')).toBeCloseTo(3200, 0);
    expect(value('speedReached')).toBeCloseTo(60, 0);
  });

  it.each([
    ['3.5 m/s2 over the first second, by more than its uncertainty', { ...LAUNCH, acceleration: 3.85 }, 1],
    ['less', { ...LAUNCH, acceleration: 3.4 }, 0],
    ['2500 rpm held', { ...LAUNCH, heldPedal: 30, heldEngineSpeed: 2500 }, 1],
    ['2499 rpm held', { ...LAUNCH, heldPedal: 30, heldEngineSpeed: 2499 }, 0],
    ['60 % held against the brake', { ...LAUNCH, heldEngineSpeed: 2200, heldPedal: 60 }, 1],
    ['59 % held', { ...LAUNCH, heldEngineSpeed: 2200, heldPedal: 59 }, 0],
    ['80 % pedal', { ...LAUNCH, heldPedal: 70, pedal: 80 }, 1],
    ['79 % pedal', { ...LAUNCH, heldPedal: 70, pedal: 79 }, 0],
  ])('limit: %s', (_name, start, expected) => {
    expect(count(among(start))).toBe(expected);
  });

  it('limit: 40 km/h within 2.5 s is enough where the first second is not', () => {
    const vehicle = car({ limits: { 'usage.launches': { acceleration: { value: 6, unit: 'm/s2' } } } });
    // 40 km/h take 2.36 s at 4.7 m/s2, and 2.58 s at 4.3 m/s2.
    expect(count(among({ ...LAUNCH, acceleration: 4.7 }, { vehicle, rate: 50, decimals: 2 }))).toBe(1);
    expect(count(among({ ...LAUNCH, acceleration: 4.3 }, { vehicle, rate: 50, decimals: 2 }))).toBe(0);
  });

  it('counts by the flag as well, and not by a flag that is always on', () => {
    const flagged = among({ acceleration: 2.5, pedal: 60, flag: true });
    expect(count(flagged)).toBe(1);
    expect('events' in flagged && flagged.events?.[0]?.shownBy).toBe('launch flag');
    expect(count(among(ORDINARY, { signals: { launchControlActive: () => 1 } }))).toBe(0);
  });

  it.each([1, 2, 5, 10, 20, 50, 100])('counts exactly at %i Hz', (rate) => {
    const result = assess(
      startDrive([ORDINARY, LAUNCH, ORDINARY, { ...LAUNCH, acceleration: 6 }], { rate, decimals: rate < 5 ? 0 : 1 }),
    );
    if (result.outcome === 'unproven') {
      expect(rate).toBeLessThan(5);
      expect(measure(result, 'launchesAtMost')).toBe(2);
      expect(result.missing.conditions.join()).toContain('Hz');
    } else expect(count(result)).toBe(2);
  });

  it('leaves open what a slow log cannot tell, and names the rate', () => {
    const result = assess(startDrive([ORDINARY, { ...LAUNCH, acceleration: 3.5 }], { rate: 1, decimals: 0 }));
    expect(result.outcome).toBe('unproven');
    expect(measure(result, 'launchesAtLeast')).toBe(0);
    expect(measure(result, 'launchesAtMost')).toBe(1);
    expect(result.outcome === 'unproven' && result.missing.conditions).toEqual(['vehicleSpeed at >= 5 Hz']);
  });

  it('counts the same in a log that holds each value for five rows', () => {
    const drive = startDrive([ORDINARY, LAUNCH, LAUNCH], { rate: 50 });
    const signals: Record<string, Signal> = {};
    for (const [id, { values }] of drive.recording.channels) signals[id] = values.map((_v, i) => values[i - (i % 5)]!);
    expect(count(assess(driveOf(drive.time, signals)))).toBe(2);
  });
});

describe('usage.launches, what must not fool it', () => {
  it('brisk pull-away', () => {
    expect(count(among({ acceleration: 4.5, pedal: 100 }))).toBe(0);
  });
  it('hill start', () => {
    expect(count(among({ acceleration: 1.2, heldPedal: 65, heldEngineSpeed: 2600, pedal: 90 }))).toBe(0);
  });
  it('revving in neutral, then a brisk pull-away', () => {
    expect(count(among({ acceleration: 4.5, pedal: 100, revBefore: 4500 }))).toBe(0);
  });
  it('creep', () => {
    expect(count(among({ acceleration: 0.3, pedal: 0 }))).toBe(0);
  });
  it('wheels that lock under braking are no standstill', () => {
    const drive = startDrive([ORDINARY, FLOORED]);
    const speed = drive.channel('vehicleSpeed')!.values;
    const locked = speed.map((v, i) => (drive.time[i]! > 110 && drive.time[i]! < 111.5 ? 0 : v));
    const wheels = {
      'wheelSpeed.frontLeft': speed,
      'wheelSpeed.frontRight': speed,
      'wheelSpeed.rearLeft': locked,
      'wheelSpeed.rearRight': locked,
    };
    const vehicle = car({ driveline: { driven: 'front' } });
    const signals = { ...wheels, pedalPosition: undefined, engineSpeed: (t: number) => 2600 + Math.sin(t) };
    const result = assess(startDrive([ORDINARY, FLOORED], { vehicle, signals }));
    expect(count(result)).toBe(0);
    expect(measure(result, 'starts')).toBe(2);
  });

  it('wheelspin on ice: sensor or undriven wheels say how fast the car is; the speed alone leaves it open', () => {
    const ice: Start = { acceleration: 1, heldEngineSpeed: 2800, heldPedal: 80, pedal: 90, spin: 6 };
    const starts = [ORDINARY, FLOORED, ice, ORDINARY];
    const sensed = assess(startDrive(starts, { signals: { longitudinalAcceleration: trueAcceleration(starts) } }));
    expect(count(sensed)).toBe(0);
    expect(severity(sensed)).toBe('clear');
    const front = startDrive([...starts]).channel('vehicleSpeed')!.values;
    const rear = startDrive(starts.map((s) => ({ ...s, spin: 1 }))).channel('vehicleSpeed')!.values;
    const wheels = {
      'wheelSpeed.frontLeft': front,
      'wheelSpeed.frontRight': front,
      'wheelSpeed.rearLeft': rear,
      'wheelSpeed.rearRight': rear,
    };
    const undriven = assess(startDrive(starts, { signals: wheels, vehicle: car({ driveline: { driven: 'front' } }) }));
    expect(count(undriven)).toBe(0);
    expect(severity(undriven)).toBe('clear');
    const blind = assess(startDrive(starts));
    expect(count(blind)).toBe(0);
    expect(blind.outcome).toBe('unproven');
  });
});

describe('usage.launches, channels that are not there', () => {
  it('no pedal: the held engine speed tells, less surely', () => {
    const without = assess(startDrive([ORDINARY, LAUNCH, LAUNCH], { signals: { pedalPosition: undefined } }));
    const all = assess(startDrive([ORDINARY, LAUNCH, LAUNCH]));
    expect(count(without)).toBe(2);
    expect('notes' in without && without.notes?.join(' ')).toContain('Pedal not recorded');
    expect(confidence(without)).toBeLessThan(confidence(all));
    expect(
      count(assess(startDrive([ORDINARY, { acceleration: 4.5 }], { signals: { pedalPosition: undefined } }))),
    ).toBe(0);
  });

  it('no pedal and an engine between idle and held: open', () => {
    const result = assess(
      startDrive([ORDINARY, { ...LAUNCH, heldEngineSpeed: 2000 }], { signals: { pedalPosition: undefined } }),
    );
    expect(result.outcome === 'unproven' && result.missing.channels).toEqual(['pedalPosition']);
  });

  it('speed alone: none when no start is hard enough, open when one is', () => {
    const bare = { pedalPosition: undefined, engineSpeed: undefined };
    const gentle = assess(startDrive([ORDINARY, FLOORED], { signals: bare }));
    expect(severity(gentle)).toBe('clear');
    expect(count(gentle)).toBe(0);
    const hard = assess(startDrive([ORDINARY, LAUNCH], { signals: bare }));
    expect(hard.outcome === 'unproven' && hard.missing.channels).toEqual(['engineSpeed', 'pedalPosition']);
  });

  it('no speed at all, or no start in the recording: unproven', () => {
    expect(assess(driveOf(clock(60, 10), { engineSpeed: (t) => 800 + t })).outcome).toBe('unproven');
    const moving = assess(
      driveOf(clock(60, 10), { vehicleSpeed: (t) => 80 + Math.sin(t), engineSpeed: (t) => 2000 + Math.sin(t) }),
    );
    expect(moving.outcome).toBe('unproven');
    expect(count(moving)).toBe(0);
  });
});

describe('usage.launches, rate', () => {
  // Garwood 1936: the lower 95 % bound of 2 events is 0.3554 (half the 5 % quantile of chi-square with 4 degrees of
  // freedom, 0.7107 in the usual tables). It is 5 per 1000 km over 71.07 km.
  const over = (km: number, starts: Start[]): Result => {
    const motorway = driveOf(clock(3600, 1), { vehicleSpeed: (t) => km + 0.01 * Math.sin(t) }, undefined, 1);
    const drives = startDrive(starts);
    return assess([drives, motorway]);
  };
  it('is a watch only beyond the limit at the lower bound, with at least two', () => {
    const own = (measure(over(10, [ORDINARY, LAUNCH, LAUNCH]), 'distance') as number) - 10;
    const closer = over(71.07 - own - 0.3, [ORDINARY, LAUNCH, LAUNCH]);
    expect(severity(closer)).toBe('watch');
    expect(measure(closer, 'perThousandKmAtLeast')).toBeCloseTo(5, 0);
    expect(severity(over(71.07 - own + 0.3, [ORDINARY, LAUNCH, LAUNCH]))).toBe('clear');
    expect(severity(over(10, [ORDINARY, LAUNCH]))).toBe('clear');
  });

  it('never goes beyond watch from what was seen', () => {
    expect(severity(assess(startDrive(Array<Start>(8).fill(LAUNCH))))).toBe('watch');
  });

  it("shows limits of the profile as the user's, in the starts as well", () => {
    const vehicle = car({
      limits: {
        'usage.launches': {
          watch: { value: 500, unit: '1' },
          acceleration: { value: 6, unit: 'm/s2' },
          timeTo40: { value: 1.5, unit: 's' },
        },
      },
    });
    const result = assess(startDrive([ORDINARY, LAUNCH, LAUNCH], { vehicle }));
    expect(count(result)).toBe(0);
    expect('limits' in result && result.limits?.find((l) => l.name === 'watch')).toMatchObject({
      value: 500,
      source: 'profile',
    });
    const rate = car({ limits: { 'usage.launches': { watch: { value: 500, unit: '1' } } } });
    expect(severity(assess(startDrive([ORDINARY, LAUNCH, LAUNCH], { vehicle: rate })))).toBe('clear');
    expect(severity(assess(startDrive([ORDINARY, LAUNCH, LAUNCH])))).toBe('watch');
  });
});

describe('usage.launches, stored counter', () => {
  const stored = (launchCount: number, odometer: number | undefined): Result =>
    assess(
      startDrive([ORDINARY, FLOORED], {
        signals: { launchCount: () => launchCount, odometer: odometer === undefined ? undefined : () => odometer },
      }),
    );
  it.each([
    [5, 1000, 'clear'],
    [6, 1000, 'watch'],
    [20, 1000, 'watch'],
    [21, 1000, 'repair'],
    [50, 42000, 'clear'],
    [51, 42000, 'repair'],
    [255, 42000, 'clear'],
    [51, undefined, 'repair'],
    [50, undefined, 'clear'],
  ])('%i launches in %s km: %s', (launchCount, odometer, expected) => {
    const result = stored(launchCount, odometer);
    expect(severity(result)).toBe(expected);
    if (launchCount !== 255) expect(measure(result, 'storedLaunches')).toBe(launchCount);
  });

  it('is reconciled with what was seen', () => {
    const agrees = assess(
      startDrive([ORDINARY, LAUNCH], { signals: { launchCount: (t) => (t > 85 ? 3 : 2), odometer: () => 42000 } }),
    );
    expect('notes' in agrees && agrees.notes?.join(' ')).not.toContain('counter grew');
    const differs = assess(
      startDrive([ORDINARY, LAUNCH], { signals: { launchCount: () => 3, odometer: () => 42000 } }),
    );
    expect('notes' in differs && differs.notes?.join(' ')).toContain('grew by 0 while 1');
  });
});

describe('usage.launches, real drives and published schedules', () => {
  const shared = fileURLToPath(new URL('../../../../../../shared/data/', import.meta.url));
  // Source: SOURCE.md beside each file. Regulatory schedules and ordinary trips at 1 Hz hold no launch; the hardest
  // acceleration that the WLTC class 3b asks for is 1.58 m/s2 (UN Global Technical Regulation No. 15).
  it
    .skipIf(!existsSync(shared))
    .each([
      'jrc-rde-sample/Sample_Data_Exchange_File.csv',
      'carobd/live20.csv',
      'nrel-fastsim-cycles/udds.csv',
      'nrel-fastsim-cycles/wltc_3b.csv',
      'nrel-tsdc-cmap/4033363_3_2007-08-21.csv',
    ])('%s holds none', async (name) => {
    const source = readFileSync(shared + name);
    const { results } = await assessFiles([{ name: 'drive.csv', source }], { only: ['usage.launches'] });
    expect(severity(results[0]!)).toBe('clear');
    expect(count(results[0]!)).toBe(0);
  });
});

describe('a clock that wanders', () => {
  it('reads 4.99 Hz as 5 Hz: one sample of full pedal at the last moment of rest is no hold', () => {
    const start = { acceleration: 5, heldEngineSpeed: 2300, heldPedal: 30, pedal: 100 };
    const late = (t: number): number =>
      t % 60 > 19.9 && t % 60 < 24 ? 100 : t % 60 > 18.5 && t % 60 <= 19.9 ? 30 : 10;
    const drive = startDrive([start, start], { rate: 4.99, signals: { pedalPosition: late } });
    expect(runRule(launches, drive)).toMatchObject({ outcome: 'clear', measures: { launches: { value: 0 } } });
  });
});
