import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { tyreCircumference } from '../../../src/rules/driveline/tyre-circumference.js';
import { car, clock, driveOf, runRule } from '../helpers.js';

interface Set {
  /** % by which each wheel turns faster: front left, front right, rear left, rear right. */
  readonly wheels?: readonly [number, number, number, number];
  /** Creep of the rear axle, % per m/s2 of driving. */
  readonly creep?: number;
  readonly seconds?: number;
  readonly rate?: number;
  readonly yaw?: (t: number) => number;
}

function run({ wheels = [0, 0, 0, 0], creep = 0, seconds = 220, rate = 10, yaw }: Set, vehicle = car()): Result {
  const speed = (t: number) => 75 + 12 * Math.sin(t / 9);
  const acceleration = (t: number) => (12 / 3.6 / 9) * Math.cos(t / 9);
  const drive = (t: number) => acceleration(t) + 9.80665 * 0.012 + 0.6 * 0.0004 * (speed(t) / 3.6) ** 2;
  const turn = yaw ?? ((t: number) => 0.4 * Math.sin(t));
  const wheel = (k: number) => (t: number) =>
    speed(t) * (1 + wheels[k]! / 100 + (k > 1 ? (creep * drive(t)) / 100 : 0)) +
    (k % 2 === 0 ? -1 : 1) * ((turn(t) * Math.PI) / 180) * 0.78 * 3.6;
  return runRule(
    tyreCircumference,
    driveOf(
      clock(seconds, rate),
      {
        'wheelSpeed.frontLeft': wheel(0),
        'wheelSpeed.frontRight': wheel(1),
        'wheelSpeed.rearLeft': wheel(2),
        'wheelSpeed.rearRight': wheel(3),
        vehicleSpeed: speed,
        yawRate: turn,
      },
      vehicle,
    ),
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);
const value = (result: Result, name: string) =>
  'measures' in result ? (result.measures?.[name]?.value as number) : Number.NaN;

describe('driveline.tyre-circumference', () => {
  it.each([
    ['0.7 % between the axles exactly', 0.7, 'clear'],
    ['beyond 0.7 % by more than the uncertainty', 0.85, 'watch'],
    ['1.5 % exactly', 1.5, 'watch'],
    ['beyond 1.5 %', 1.66, 'repair'],
  ])('%s', (_name, percent, expected) => {
    const result = run({ wheels: [percent, percent, 0, 0] });
    expect(level(result)).toBe(expected);
    expect(Math.abs(value(result, 'axle') - percent)).toBeLessThan(0.02);
  });

  it.each([
    ['0.5 % between left and right exactly', 0.5, 'clear'],
    ['beyond 0.5 %', 0.72, 'watch'],
  ])('%s', (_name, percent, expected) => {
    const result = run({ wheels: [percent, 0, percent / 2, percent / 2] });
    expect(level(result)).toBe(expected);
    expect(Math.abs(value(result, 'front') - percent)).toBeLessThan(0.03);
  });

  it('says of a difference that one new pair may be all of it', () => {
    const result = run({ wheels: [1.2, 1.2, 0, 0] });
    expect(result.outcome === 'finding' && result.causes?.join()).toContain('one pair new');
  });

  it('is not fooled by creep of the driven axle, another set all round, a bend to one side, pressures', () => {
    const creeping = run({ creep: 0.8 });
    expect(level(creeping)).toBe('clear');
    expect(Math.abs(value(creeping, 'axle'))).toBeLessThan(0.1);
    expect(level(run({ wheels: [2.5, 2.5, 2.5, 2.5] }))).toBe('clear');
    expect(level(run({ yaw: (t) => 1.2 + 1.1 * Math.sin(t) }))).toBe('clear');
    expect(level(run({ wheels: [0.2, -0.1, 0.1, -0.2] }))).toBe('clear');
  });

  it('says which axle has the smaller tyres, on which stretch it was measured, how far the parts of it scatter', () => {
    const result = run({ wheels: [0, 0, 2, 2] });
    expect(result.outcome === 'finding' && result.summary).toMatch(/rear axle rolls .* faster than the front axle/);
    expect(result.outcome === 'finding' && result.summary).toMatch(/rear axle has the smaller tyres/);
    const [event, ...more] = 'events' in result ? result.events : [];
    expect(more).toEqual([]);
    expect(event).toMatchObject({ severity: 'repair', what: 'front axle against rear axle', limit: { value: 1.5 } });
    const [low, peak, high] = ['mostlyFrom', 'peak', 'mostlyTo'].map((k) => (event![k] as { value: number }).value);
    expect(low!).toBeLessThanOrEqual(high!);
    for (const percent of [low, peak, high]) expect(Math.abs(percent! - -2)).toBeLessThan(0.1);
    expect(event!.to - event!.from).toBeGreaterThan(180);
    expect((event!.distance as { value: number }).value).toBeGreaterThan(3);
  });

  it('too short, or wheels missing: unproven; distance and wheels named', () => {
    const short = run({ wheels: [2, 2, 0, 0], seconds: 100 });
    expect(short.outcome === 'unproven' && short.missing.conditions.join()).toContain('3 km straight');
    const blind = runRule(tyreCircumference, driveOf(clock(20, 10), { vehicleSpeed: (t) => 60 + t }));
    expect(blind.outcome === 'unproven' && blind.missing.channels).toEqual(['wheelSpeed']);
  });

  it('limits of the profile count and are shown as such', () => {
    const vehicle = car({ limits: { 'driveline.tyre-circumference': { 'axle-watch': { value: 1.2, unit: '%' } } } });
    const result = run({ wheels: [1, 1, 0, 0] }, vehicle);
    expect(level(result)).toBe('clear');
    expect('limits' in result && result.limits?.find((l) => l.name === 'axle-watch')).toMatchObject({
      value: 1.2,
      source: 'profile',
    });
  });
});
