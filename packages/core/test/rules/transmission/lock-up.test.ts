import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { lockUp } from '../../../src/rules/transmission/lock-up.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const VEHICLE = car({ transmission: { kind: 'converter' } });

/** Closed from 10 s on; `slip` rpm for `seconds` from 30 s on. */
function run(slip: number, seconds = 3, extra: Record<string, Signal> = {}, vehicle = VEHICLE, rate = 10): Result {
  const turbine = (t: number) => 2000 + 200 * Math.sin(t / 3);
  const open = (t: number) => (t < 10 ? 300 : t < 10.8 ? 200 : t >= 30 && t <= 30 + seconds ? slip : 0);
  const signals = {
    engineSpeed: (t: number) => turbine(t) + open(t),
    inputShaftSpeed: turbine,
    converterClutchState: (t: number) => (t < 10 ? 0 : 2),
    transmissionOilTemperature: (t: number) => 80 + 0.01 * t,
    gear: (t: number) => (t < 5 ? 4 : 5),
    ...extra,
  };
  return runRule(lockUp, driveOf(clock(90, rate), signals, vehicle));
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);

describe('transmission.lock-up', () => {
  it.each([
    ['50 rpm exactly', 50, 'clear'],
    ['beyond 50 rpm by more than the uncertainty', 58, 'watch'],
    ['100 rpm exactly', 100, 'watch'],
    ['beyond 100 rpm', 108, 'repair'],
  ])('%s', (_name, slip, expected) => {
    const result = run(slip);
    expect(level(result)).toBe(expected);
    expect('measures' in result && result.measures?.slip?.value).toBeCloseTo(slip, 0);
  });

  it('says of a slip that is not surely beyond its limit that it is near', () => {
    const near = run(53);
    expect(level(near)).toBe('clear');
    expect(near.summary).toMatch(/near the limit: beyond it, but not surely\.$/);
    expect(run(45).summary).not.toContain('near');
  });

  it('a slip must last two seconds', () => {
    expect(level(run(150, 1.8))).toBe('clear');
    expect(level(run(150, 2.1))).toBe('repair');
  });

  it('measures through the noise of both sensors, 4 rpm each, to 3 rpm', () => {
    const noise = (seed: number) => (t: number) => 4 * Math.sqrt(2) * Math.sin(seed * 1e4 * (t + 1) ** 2);
    const turbine = (t: number) => 2000 + 200 * Math.sin(t / 3);
    const result = run(66, 6, {
      engineSpeed: (t) => turbine(t) + (t < 10 ? 300 : t >= 30 && t <= 36 ? 66 : 0) + noise(1.3)(t),
      inputShaftSpeed: (t) => turbine(t) + noise(2.1)(t),
    });
    expect(level(result)).toBe('watch');
    expect(Math.abs(((('measures' in result && result.measures?.slip?.value) || 0) as number) - 66)).toBeLessThan(3);
  });

  it('is not fooled by slip on purpose, cold fluid, shifts', () => {
    const controlled = run(80, 50, { converterClutchState: (t) => (t < 10 ? 0 : t < 29 || t > 85 ? 2 : 1) });
    expect(level(controlled)).toBe('clear');
    const cold = run(150, 3, { transmissionOilTemperature: (t) => (t < 40 ? 45 : 60) });
    expect(level(cold)).toBe('clear');
    expect(level(run(150, 2.2, { gear: (t) => (t > 31 && t < 32 ? 6 : 5) }))).toBe('clear');
  });

  it('leaves slip between the limits open where a switch may stand for slip on purpose', () => {
    const state = { values: (t: number) => (t < 10 ? 0 : 2), certainty: 'inferred' as const };
    expect(level(run(45, 3, { converterClutchState: state }))).toBe('clear');
    expect(level(run(70, 3, { converterClutchState: state }))).toBe('unproven');
    expect(level(run(150, 3, { converterClutchState: state }))).toBe('repair');
  });

  it('limits of the profile count and are shown as such', () => {
    const vehicle = { ...VEHICLE, limits: { 'transmission.lock-up': { watch: { value: 70, unit: 'rpm' } } } };
    const result = run(60, 3, {}, vehicle);
    expect(level(result)).toBe('clear');
    expect('limits' in result && result.limits?.find((l) => l.name === 'watch')).toMatchObject({
      value: 70,
      source: 'profile',
    });
  });

  it('unproven without closed clutch, state, turbine or rate; not applicable without converter', () => {
    expect(run(0, 3, { converterClutchState: (t) => (t < 80 ? 1 : 2) }).outcome).toBe('unproven');
    const blind = runRule(lockUp, driveOf(clock(20, 10), { engineSpeed: (t) => 900 + t }, VEHICLE));
    expect(blind.outcome === 'unproven' && blind.missing.channels).toEqual(['converterClutchState']);
    const slow = run(150, 3, {}, VEHICLE, 1);
    expect(slow.outcome === 'unproven' && slow.missing.conditions.join()).toContain('1.5 Hz');
    expect(run(150, 3, {}, car({ transmission: { kind: 'dual-clutch' } })).outcome).toBe('not-applicable');
  });
});
