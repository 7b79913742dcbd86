import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { judder } from '../../../src/rules/transmission/judder.js';
import { car, clock, driveOf, runRule } from '../helpers.js';

const VEHICLE = car({ transmission: { kind: 'dual-clutch' } });

/** Four pull-aways of 4 s to 20 km/h, `count` of them with `amplitude` rpm at `hz`; half order of a rough idle and a rough road beside it. */
function run(
  { amplitude = 0, count = 4, hz = 9, rate = 50, rough = 0, starts = 4, road = 0 },
  vehicle = VEHICLE,
): Result {
  const inside = (t: number) => t % 20;
  const speed = (t: number) =>
    t / 20 >= starts ? 0 : Math.min(20, 5 * Math.max(0, Math.min(inside(t) - 5, 18 - inside(t))));
  const engine = (t: number) => 1300 + 40 * Math.sin(t);
  const shake = (t: number) =>
    Math.floor(t / 20) < count && inside(t) < 10 ? amplitude * Math.sin(2 * Math.PI * hz * t) : 0;
  const half = (t: number) => rough * Math.sin((2 * Math.PI * 0.5 * (1300 * t - 40 * Math.cos(t))) / 60);
  return runRule(
    judder,
    driveOf(
      clock(80, rate),
      {
        'inputShaftSpeed.clutch1': (t) =>
          speed(t) > 0 ? 60 * speed(t) + shake(t) + half(t) + road * Math.sin(2 * Math.PI * 8 * t) : 0,
        engineSpeed: engine,
        vehicleSpeed: speed,
      },
      vehicle,
    ),
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);

describe('transmission.judder', () => {
  it.each([
    ['30 rpm exactly', 30, 'clear'],
    ['beyond 30 rpm by more than the uncertainty', 40, 'watch'],
    ['80 rpm exactly', 80, 'watch'],
    ['beyond 80 rpm', 104, 'repair'],
  ])('%s', (_name, amplitude, expected) => {
    const result = run({ amplitude });
    expect(level(result)).toBe(expected);
    const measured = 'measures' in result ? (result.measures?.amplitude?.value as number) : Number.NaN;
    expect(Math.abs(measured / amplitude - 1)).toBeLessThan(0.15);
  });

  it('takes three take-ups', () => {
    expect(level(run({ amplitude: 60, count: 2 }))).toBe('clear');
    expect(level(run({ amplitude: 60, count: 3 }))).toBe('watch');
  });

  it('is not fooled by a rough idle (half engine order) nor by slow surging', () => {
    expect(level(run({ rough: 50 }))).toBe('clear');
    expect(level(run({ amplitude: 60, hz: 1.2 }))).toBe('clear');
  });

  it('is not fooled by a rough road, which shakes the rolling car as well; judder on it that is twice as much counts', () => {
    const shaken = run({ road: 60 });
    expect(shaken.outcome === 'unproven' && shaken.missing.conditions.join()).toContain('on a smooth road');
    expect(level(run({ road: 20 }))).toBe('clear');
    expect(level(run({ road: 20, amplitude: 60 }))).toBe('watch');
  });

  it('limits of the profile count and are shown as such', () => {
    const vehicle = { ...VEHICLE, limits: { 'transmission.judder': { watch: { value: 50, unit: 'rpm' } } } };
    const result = run({ amplitude: 40 }, vehicle);
    expect(level(result)).toBe('clear');
    expect('limits' in result && result.limits?.find((l) => l.name === 'watch')).toMatchObject({
      value: 50,
      source: 'profile',
    });
  });

  it('too slow, too few starts: unproven; a converter: not applicable', () => {
    const slow = run({ amplitude: 60, rate: 20 });
    expect(slow.outcome === 'unproven' && slow.missing.conditions).toEqual(['inputShaftSpeed at >= 40 Hz']);
    const few = run({ amplitude: 60, starts: 2 });
    expect(few.outcome === 'unproven' && few.missing.conditions.join()).toContain('3 pull-aways');
    expect(run({}, car({ transmission: { kind: 'converter' } })).outcome).toBe('not-applicable');
  });
});
