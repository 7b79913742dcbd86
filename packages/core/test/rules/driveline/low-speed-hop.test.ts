import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { lowSpeedHop } from '../../../src/rules/driveline/low-speed-hop.js';
import { car, clock, driveOf, runRule } from '../helpers.js';

/** Full lock left to 20 s, right to 40 s, half lock to 60 s, at 7 km/h; hop at 6 Hz. */
function run(
  { front = 0, rear = 0, half = 0, ambient = 20, rate = 50, left = true, ring = 0, lock = 480 },
  vehicle = car(),
): Result {
  const steering = (t: number) => (t < 20 ? (left ? lock : -lock) : t < 40 ? -lock : 0.5 * lock);
  const speed = (t: number) => 7 + 0.4 * Math.sin(t / 4);
  const shake = (size: number) => (t: number) =>
    speed(t) +
    (t < 40 ? size : half * size) * Math.sin(2 * Math.PI * 6 * t) +
    ring * Math.sin((2 * Math.PI * 7 * t) / 3.6 / 2.05);
  return runRule(
    lowSpeedHop,
    driveOf(
      clock(60, rate),
      {
        'wheelSpeed.frontLeft': shake(front),
        'wheelSpeed.frontRight': shake(front),
        'wheelSpeed.rearLeft': shake(rear),
        'wheelSpeed.rearRight': shake(rear),
        steeringAngle: (t) => steering(t) + Math.sin(t),
        ambientTemperature: () => ambient,
      },
      vehicle,
    ),
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);

describe('driveline.low-speed-hop', () => {
  it.each([
    ['0.5 km/h exactly', 0.5, 'clear'],
    ['beyond 0.5 km/h by more than the uncertainty', 0.68, 'repair'],
  ])('%s', (_name, front, expected) => {
    const result = run({ front });
    expect(level(result)).toBe(expected);
    expect(Math.abs(('measures' in result ? (result.measures?.front?.value as number) : 0) / front - 1)).toBeLessThan(
      0.12,
    );
  });

  it('is not fooled by cold tyres, rear hop, half lock alike, a ring out of round', () => {
    const cold = run({ front: 1, ambient: 5 });
    expect(cold.outcome === 'unproven' && cold.missing.conditions.join()).toContain('10 °C');
    expect(level(run({ rear: 1.2 }))).toBe('clear');
    expect(level(run({ front: 1, rear: 1.2 }))).toBe('clear');
    expect(level(run({ front: 1, half: 0.9 }))).toBe('clear');
    expect(level(run({ ring: 0.9 }))).toBe('clear');
  });

  it('one direction, no lock, too slow a log: unproven', () => {
    expect(run({ front: 1, left: false }).outcome).toBe('unproven');
    expect(run({ front: 1, lock: 200 }).outcome).toBe('unproven');
    const slow = run({ front: 1, rate: 10 });
    expect(slow.outcome === 'unproven' && slow.missing.conditions).toEqual(['wheelSpeed at >= 30 Hz']);
  });

  it('limits of the profile count and are shown as such', () => {
    const vehicle = car({ limits: { 'driveline.low-speed-hop': { repair: { value: 1.2, unit: 'km/h' } } } });
    const result = run({ front: 1 }, vehicle);
    expect(level(result)).toBe('clear');
    expect('limits' in result && result.limits?.find((l) => l.name === 'repair')).toMatchObject({
      value: 1.2,
      source: 'profile',
    });
  });
});
