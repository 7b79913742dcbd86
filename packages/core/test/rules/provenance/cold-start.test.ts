import { describe, expect, test } from 'vitest';
import { coldStart } from '../../../src/rules/provenance/cold-start.js';
import { car, clock, driveOf, runRule } from '../helpers.js';

interface Stand {
  readonly coolant?: number;
  readonly oil?: number;
  readonly fluid?: number;
  readonly outside?: number;
  readonly intake?: number;
  readonly runTime?: number;
  /** The recording begins with the engine at rest. */
  readonly started?: boolean;
}

const time = clock(60, 2);

function begun(stand: Stand, vehicle = car()) {
  const rising = (x: number) => (t: number) => Math.round(x + 0.05 * t);
  const fixed = (x: number) => ({ values: () => x });
  const signals = {
    engineSpeed: (t: number) => (stand.started !== false && t < 4 ? 0 : 900 + 10 * Math.sin(t)),
    ...(stand.coolant === undefined ? {} : { coolantTemperature: rising(stand.coolant) }),
    ...(stand.oil === undefined ? {} : { engineOilTemperature: rising(stand.oil) }),
    ...(stand.fluid === undefined ? {} : { transmissionOilTemperature: rising(stand.fluid) }),
    ...(stand.outside === undefined ? {} : { ambientTemperature: fixed(stand.outside) }),
    ...(stand.intake === undefined ? {} : { intakeAirTemperature: fixed(stand.intake) }),
    ...(stand.runTime === undefined ? {} : { engineRunTime: (t: number) => stand.runTime! + t }),
  };
  return runRule(coldStart, driveOf(time, signals, vehicle));
}

describe('cold', () => {
  test('all within 6 K', () => {
    const result = begun({ coolant: 15, oil: 16, fluid: 14, outside: 13, runTime: 0 });
    expect(result).toMatchObject({ outcome: 'clear' });
    expect(result.summary).toContain('coolant temperature 15 °C');
  });

  test.each([
    [6, 'clear'],
    [8, 'clear'],
    [20, 'finding'],
  ])('coolant %d K over the rest: %s', (over, outcome) => {
    expect(begun({ coolant: 15 + over, oil: 15 + 0.8 * over, fluid: 15, outside: 15 })).toMatchObject({ outcome });
  });

  test.each([
    [10, 'clear'],
    [11, 'unproven'],
  ])('engine running for %d s: %s', (runTime, outcome) => {
    expect(begun({ coolant: 15, oil: 15, fluid: 15, outside: 15, runTime, started: false })).toMatchObject({ outcome });
  });

  test('an outside sensor warmed by the sun is no sign', () => {
    expect(begun({ coolant: 15, oil: 15, fluid: 15, outside: 26 })).toMatchObject({ outcome: 'clear' });
  });
});

describe('a fluid colder than the air', () => {
  test('is a sensor in doubt, and nothing that was warmed up', () => {
    const result = begun({ coolant: 15, oil: 15, fluid: 0, outside: 15, runTime: 0 });
    expect(result).toMatchObject({ outcome: 'clear', measures: { transmissionOilTemperature: { value: 0 } } });
    expect(result.summary).not.toContain('transmission');
    expect(JSON.stringify(result)).toMatch(/Left out: transmission oil temperature reads 0 °C, 15 K under the air/);
    expect(begun({ coolant: 15, fluid: 0, outside: 15 })).toMatchObject({ outcome: 'unproven' });
  });

  test.each([
    [7, false],
    [3, true],
  ])('from its uncertainty beyond the limit on: %d °C against 15: %s', (fluid, left) => {
    const result = begun({ coolant: 15, oil: 15, fluid, outside: 15, runTime: 0 });
    expect(JSON.stringify(result).includes('Left out')).toBe(left);
  });

  test('excuses no warm engine', () => {
    expect(begun({ coolant: 45, oil: 38, fluid: 0, outside: 15 })).toMatchObject({ outcome: 'finding' });
    expect(begun({ coolant: 35, oil: 15, fluid: 15, outside: 35 }).outcome).not.toBe('clear');
  });
});

describe('prepared', () => {
  test('says so with the numbers', () => {
    const result = begun({ coolant: 48, oil: 41, fluid: 26, outside: 14, runTime: 0 });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.summary).toMatch(/coolant temperature 48 °C.*against 14 °C outside/);
  });

  test('an ordinary warm drive is none, unless a cold start was agreed', () => {
    const warm = { coolant: 88, oil: 92, fluid: 75, outside: 14, started: false };
    expect(begun(warm)).toMatchObject({ outcome: 'unproven' });
    expect(begun(warm, car({ claims: { coldStart: true } }))).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  test('one cold start among several recordings is enough', () => {
    const cold = { coolantTemperature: () => 12, engineOilTemperature: (t: number) => 12 + t / 60 };
    const ambientTemperature = { values: () => 12 };
    const half = { coolantTemperature: () => 45, engineOilTemperature: () => 40, ambientTemperature };
    const engineSpeed = (t: number): number => (t < 4 ? 0 : 900);
    const drives = [
      driveOf(time, { ...half, engineSpeed }, car(), 0),
      driveOf(time, { ...cold, ambientTemperature, engineSpeed }, car(), 1),
    ];
    expect(runRule(coldStart, drives)).toMatchObject({ outcome: 'clear' });
  });
});

describe('not fooled', () => {
  test('engine heater in the cold', () => {
    const result = begun({ coolant: 22, oil: 2, fluid: -8, outside: -9 });
    expect(result).toMatchObject({ outcome: 'unproven' });
    expect(result.summary).toContain('engine heater');
  });

  test('sun on the car, or a warm garage', () => {
    expect(begun({ coolant: 27, oil: 26, fluid: 25, outside: 15 })).toMatchObject({ outcome: 'unproven' });
  });

  test('an intake that is warmed by the engine does not make it cold', () => {
    expect(begun({ coolant: 52, oil: 50, intake: 49 })).toMatchObject({ outcome: 'unproven' });
    expect(begun({ coolant: 17, oil: 16, intake: 15 })).toMatchObject({ outcome: 'clear' });
  });
});

test('unproven without the channels', () => {
  expect(begun({ coolant: 41, intake: 32 })).toMatchObject({ outcome: 'unproven' });
  expect(begun({ outside: 15 })).toMatchObject({
    outcome: 'unproven',
    missing: { channels: expect.arrayContaining(['coolantTemperature']) },
  });
  expect(begun({ coolant: 15 })).toMatchObject({
    outcome: 'unproven',
    missing: { channels: expect.arrayContaining(['engineOilTemperature', 'ambientTemperature']) },
  });
});

test('the user’s own limit', () => {
  const vehicle = car({ limits: { 'provenance.cold-start': { apart: { value: 30, unit: 'K' } } } });
  expect(begun({ coolant: 35, oil: 30, fluid: 20, outside: 15 }, vehicle)).toMatchObject({
    outcome: 'clear',
    limits: expect.arrayContaining([expect.objectContaining({ name: 'apart', value: 30, source: 'profile' })]),
  });
});
