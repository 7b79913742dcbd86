import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { frontDrive } from '../../../src/rules/driveline/front-drive.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Spin {
  readonly at: number;
  /** km/h between the axles, and what is left of it 0.4 s after the coupling has closed. */
  readonly difference: number;
  readonly left: number;
  readonly command?: number;
  readonly seconds?: number;
}

const VEHICLE = car({ driveline: { driven: 'all' } });

/** Steady 60 km/h with the rear turning 1 % faster (smaller tyres), and spins at 30 km/h. */
function run(spins: readonly Spin[], extra: Record<string, Signal> = {}, rate = 20, vehicle = VEHICLE): Result {
  const time = clock(120, rate);
  const spinAt = (t: number) => spins.find((s) => t >= s.at && t < s.at + (s.seconds ?? 2));
  const front = (t: number) => (spinAt(t) ? 30 : 60) + 0.3 * Math.sin(t * 3);
  const rear = (t: number) => {
    const spin = spinAt(t);
    if (spin === undefined) return 1.01 * front(t);
    return 1.01 * (front(t) + (t < spin.at + 0.6 ? spin.difference : spin.left));
  };
  return runRule(
    frontDrive,
    driveOf(
      time,
      {
        couplingDuty: (t) => spinAt(t)?.command ?? (spinAt(t) ? 80 : 12),
        'wheelSpeed.frontLeft': front,
        'wheelSpeed.frontRight': front,
        'wheelSpeed.rearLeft': rear,
        'wheelSpeed.rearRight': rear,
        brakeSwitch: (t) => (t > 119 ? 1 : 0),
        steeringAngle: (t) => 3 * Math.sin(t),
        ...extra,
      },
      vehicle,
    ),
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);
const failing = (difference = 12, more: Partial<Spin> = {}): Spin[] => [
  { at: 30, difference, left: difference, ...more },
  { at: 60, difference, left: difference, ...more },
];

describe('driveline.front-drive', () => {
  it('axles that stay apart under command, twice: repair', () => {
    const result = run(failing());
    expect(level(result)).toBe('repair');
    expect('measures' in result && result.measures?.notHalved?.value).toBe(2);
    expect(result.summary).toContain('2 of 2 spins');
  });

  it('halves in time: clear; once not: open', () => {
    expect(level(run([{ at: 30, difference: 12, left: 5.9 }]))).toBe('clear');
    const once = run([{ at: 30, difference: 12, left: 6.2 }]);
    expect(once.outcome === 'unproven' && once.missing.conditions.join()).toContain('slippery');
  });

  it.each([
    ['5 km/h exactly are no spin', 5, 'unproven'],
    ['more than 5 km/h and the noise of the sensors', 5.4, 'repair'],
  ])('%s', (_name, difference, expected) => expect(level(run(failing(difference)))).toBe(expected));

  it.each([
    ['59 % command are too little', 59, 'unproven'],
    ['60 % count', 60, 'repair'],
  ])('%s', (_name, command, expected) => expect(level(run(failing(12, { command })))).toBe(expected));

  it('limits of the profile count and are shown as such', () => {
    const vehicle = { ...VEHICLE, limits: { 'driveline.front-drive': { repair: { value: 3, unit: '1' } } } };
    const result = run(failing(), {}, 20, vehicle);
    expect(result.outcome).toBe('unproven');
    const three = run([...failing(), { at: 90, difference: 12, left: 12 }], {}, 20, vehicle);
    expect('limits' in three && three.limits?.find((l) => l.name === 'repair')).toMatchObject({
      value: 3,
      source: 'profile',
    });
  });

  it.each([
    ['braking', { brakeSwitch: (t: number) => (t > 29 && t < 63 ? 1 : 0) }],
    ['a corner', { steeringAngle: (t: number) => (t > 29 && t < 63 ? 120 : 0) }],
    ['stability control opens the coupling', { stabilityControlActive: (t: number) => (t > 29 && t < 63 ? 1 : 0) }],
    ['anti-lock brakes open the coupling', { antilockActive: (t: number) => (t > 29 && t < 63 ? 1 : 0) }],
    ['a hot coupling cuts out', { couplingTemperature: (t: number) => (t > 29 && t < 63 ? 130 : 90) }],
    [
      'tyres of another size',
      {
        'wheelSpeed.rearLeft': (t: number) => 66 + 0.3 * Math.sin(t),
        'wheelSpeed.rearRight': (t: number) => 66 + 0.3 * Math.sin(t),
        'wheelSpeed.frontLeft': (t: number) => 60 + 0.3 * Math.sin(t),
        'wheelSpeed.frontRight': (t: number) => 60 + 0.3 * Math.sin(t),
        couplingDuty: (t: number) => 80 + Math.sin(t),
      },
    ],
  ])('is not fooled by: %s', (_name, extra) => expect(level(run(failing(), extra))).toBe('unproven'));

  it('without spin, command, wheels or rate: unproven; with one driven axle: not applicable', () => {
    expect(run([]).outcome).toBe('unproven');
    const blind = runRule(frontDrive, driveOf(clock(20, 10), { vehicleSpeed: (t) => 30 + t }, VEHICLE));
    expect(blind.outcome === 'unproven' && blind.missing.channels).toEqual(['couplingDuty']);
    const slow = run(failing(), {}, 4);
    expect(slow.outcome === 'unproven' && slow.missing.conditions).toEqual(['wheelSpeed at >= 6 Hz']);
    expect(run(failing(), {}, 20, car({ driveline: { driven: 'rear' } })).outcome).toBe('not-applicable');
  });
});
