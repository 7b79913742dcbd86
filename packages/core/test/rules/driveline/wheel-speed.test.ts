import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { wheelSpeed } from '../../../src/rules/driveline/wheel-speed.js';
import { dropOutsOf } from '../../../src/rules/driveline/wheel-speed-reading.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Drive {
  /** Times (s) at which the front left wheel reads nothing for 0.6 s. */
  readonly lost?: readonly number[];
  /** % by which the front left wheel reads too much. */
  readonly percent?: number;
  readonly offset?: number;
  readonly crawl?: number;
}

/** 40 s at walking pace, then 80 s near 80 km/h. */
function run(
  { lost = [], percent = 0, offset = 0, crawl = 8 }: Drive,
  extra: Record<string, Signal> = {},
  vehicle = car(),
  rate = 10,
): Result {
  const speed = (t: number) =>
    t < 40 ? crawl + 0.5 * Math.sin(t) : t < 50 ? crawl + 7.2 * (t - 40) : 80 + 3 * Math.sin(t / 5);
  const yaw = (t: number) => 0.8 * Math.sin(t / 3);
  const other = (t: number) => speed(t);
  return runRule(
    wheelSpeed,
    driveOf(
      clock(120, rate),
      {
        'wheelSpeed.frontLeft': (t) =>
          lost.some((at) => t >= at && t < at + 0.6) ? 0 : speed(t) * (1 + percent / 100),
        'wheelSpeed.frontRight': other,
        'wheelSpeed.rearLeft': other,
        'wheelSpeed.rearRight': other,
        steeringAngle: (t) => offset + 2.5 * yaw(t),
        yawRate: yaw,
        ...extra,
      },
      vehicle,
    ),
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);

describe('driveline.wheel-speed', () => {
  it.each([
    ['3 % exactly', { percent: 3 }, 'clear'],
    ['beyond 3 % by more than tyres explain', { percent: -3.3 }, 'repair'],
    ['two drop-outs', { lost: [10, 20] }, 'clear'],
    ['three drop-outs', { lost: [10, 20, 30] }, 'repair'],
    ['3 deg exactly', { offset: 3 }, 'clear'],
    ['beyond 3 deg', { offset: -4 }, 'watch'],
    ['8 deg exactly', { offset: 8 }, 'watch'],
    ['beyond 8 deg', { offset: 9 }, 'repair'],
  ])('%s', (_name, drive, expected) => expect(level(run(drive))).toBe(expected));

  it('says where a wheel or the steering was measured, what the other wheels do, and the limit', () => {
    const events = (result: Result) => ('events' in result ? result.events : []);
    const [lying, ...none] = events(run({ percent: -3.3 }));
    expect(none).toEqual([]);
    expect(lying).toMatchObject({ severity: 'repair', what: 'front left wheel, straight ahead', limit: { value: 3 } });
    expect((lying!.peak as { value: number }).value).toBeCloseTo(-3.3, 2);
    expect((lying!.otherWheels as { value: number }).value).toBeLessThan(0.1);
    const [crooked] = events(run({ offset: 9 }));
    expect(crooked).toMatchObject({ what: 'steering wheel, straight ahead', limit: { value: 8, unit: 'deg' } });
    expect((crooked!.peak as { value: number }).value).toBeCloseTo(9, 1);
    for (const { from, to } of [lying!, crooked!]) {
      expect(from).toBeGreaterThanOrEqual(0);
      expect(to).toBeGreaterThan(100);
    }
    expect(events(run({}))).toEqual([]);
  });

  it('says wheel, count and time', () => {
    const result = run({ lost: [10, 20, 30] });
    expect(result.summary).toContain('front left wheel lost its signal 3 times');
    expect(result.summary).toContain('0:10');
    expect('events' in result && result.events).toHaveLength(3);
  });

  it('is not fooled by the sensor floor, wheels locked by braking, a yaw sensor that is off, one other tyre', () => {
    expect(level(run({ lost: [10, 20, 30], crawl: 2 }))).not.toBe('repair');
    const rolls = new Float64Array(30).fill(8);
    const stands = new Float64Array(30).fill(0);
    const at = (a: number) => dropOutsOf([stands, rolls, rolls, rolls], new Float64Array(30).fill(a), clock(2.9, 10));
    expect(at(-1)).toHaveLength(1);
    expect(at(-5)).toHaveLength(0);
    expect(level(run({ percent: 1.5 }))).toBe('clear');
    const standing = (t: number) => (t < 6 ? 0 : 8 + (t > 40 ? 72 : 0));
    const yaw = (t: number) => 2 + (t < 6 ? 0 : 0.8 * Math.sin(t / 3));
    const wheels = Object.fromEntries(
      ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'].map((w) => [`wheelSpeed.${w}`, standing]),
    );
    const result = run({}, { ...wheels, yawRate: yaw, steeringAngle: (t) => (t < 6 ? 0 : 2 * Math.sin(t / 3)) });
    expect(Math.abs('measures' in result ? (result.measures?.steeringOffset?.value as number) : 99)).toBeLessThan(0.3);
  });

  it('limits of the profile count and are shown as such', () => {
    const vehicle = car({ limits: { 'driveline.wheel-speed': { 'offset-watch': { value: 5, unit: 'deg' } } } });
    const result = run({ offset: 4 }, {}, vehicle);
    expect(level(result)).toBe('clear');
    expect('limits' in result && result.limits?.find((l) => l.name === 'offset-watch')).toMatchObject({
      value: 5,
      source: 'profile',
    });
  });

  it('without slow rolling, rate or wheels: unproven', () => {
    const fast = run({ crawl: 30 });
    expect(fast.outcome === 'unproven' && fast.missing.conditions.join()).toContain('3 to 15 km/h');
    const slow = run({}, {}, car(), 1);
    expect(slow.outcome === 'unproven' && slow.missing.conditions.join()).toContain('Hz');
    expect(runRule(wheelSpeed, driveOf(clock(20, 10), { vehicleSpeed: (t) => 60 + t })).outcome).toBe('unproven');
  });
});
