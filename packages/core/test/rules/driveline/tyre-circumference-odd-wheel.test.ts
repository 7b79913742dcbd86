import { describe, expect, it } from 'vitest';
import { tyreCircumference } from '../../../src/rules/driveline/tyre-circumference.js';
import { oddWheel } from '../../../src/rules/driveline/tyre-circumference-odd-wheel.js';
import { clock, driveOf, runRule } from '../helpers.js';

const NAMES = ['front left wheel', 'front right wheel', 'rear left wheel', 'rear right wheel'];
type Wheels = readonly [number, number, number, number];

/** 4.6 km straight ahead; by how many % each wheel turns faster. */
function run(wheels: Wheels) {
  const speed = (t: number) => 75 + 12 * Math.sin(t / 9);
  const wheel = (k: number) => (t: number) => speed(t) * (1 + wheels[k]! / 100);
  return runRule(
    tyreCircumference,
    driveOf(clock(220, 10), {
      'wheelSpeed.frontLeft': wheel(0),
      'wheelSpeed.frontRight': wheel(1),
      'wheelSpeed.rearLeft': wheel(2),
      'wheelSpeed.rearRight': wheel(3),
      vehicleSpeed: speed,
      yawRate: (t) => 0.4 * Math.sin(t),
    }),
  );
}

/** What the rule measures of wheels that differ so. */
function oddOf([fl, fr, rl, rr]: Wheels) {
  const ratio = (a: number, b: number) => ({
    value: 100 * Math.log((1 + a / 100) / (1 + b / 100)),
    u: 0.03,
    samples: 40,
  });
  return oddWheel(ratio((fl + fr) / 2, (rl + rr) / 2), ratio(fl, fr), ratio(rl, rr));
}

describe('one wheel unlike the other three', () => {
  it.each([0, 1, 2, 3].flatMap((k) => [1, -1, 4, -4].map((by) => [NAMES[k]!, by, k] as const)))(
    'the %s by %d %%',
    (name, by, k) => {
      const odd = oddOf([0, 1, 2, 3].map((each) => (each === k ? by : 0)) as unknown as Wheels);
      expect(odd?.wheel).toBe(name);
      expect(odd?.value).toBeCloseTo(100 * Math.log(1 + by / 100), 6);
    },
  );

  it.each<[string, Wheels]>([
    ['an axle', [2, 2, 0, 0]],
    ['a side', [2, 0, 2, 0]],
    ['a diagonal', [2, 0, 0, 2]],
    ['one of each axle, unlike', [2, 0, -1, 0]],
    ['an axle and a wheel of it', [3, 1.5, 0, 0]],
    ['hardly anything', [0.1, 0, 0, 0]],
    ['left and right of one axle the other way', [1, -1, 0, 0]],
  ])('no single wheel: %s', (_name, wheels) => {
    expect(oddOf(wheels)).toBeUndefined();
  });

  it('names the wheel, and lets no axle be judged by what no wear does', () => {
    const result = run([0, 0, 4, 0]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.summary).toMatch(/^One wheel stands out: the rear left wheel rolls 3\.9\d % .* faster/);
    expect(result.summary).toContain('no wear does that');
    expect(result.summary).not.toContain('rear axle');
    expect('events' in result && result.events?.map(({ what }) => what)).toEqual([
      'rear left wheel against rear right wheel',
    ]);
  });

  it('of a tyre that fits says which, and what it does to the axles', () => {
    const result = run([0, -2.4, 0, 0]);
    expect(result.summary).toMatch(/^One wheel stands out: the front right wheel rolls 2\.4\d % .* slower/);
    expect(result.summary).toContain('larger tyre');
    expect('events' in result && result.events).toHaveLength(2);
  });

  it('says of a ratio that is not surely beyond its limit that it is near', () => {
    expect(run([0.72, 0.72, 0, 0]).summary).toContain('near the limit of 0.7 %, not surely beyond it');
    expect(run([0.6, 0.6, 0, 0]).summary).toContain('within 0.7 %');
  });

  it('leaves an axle an axle', () => {
    const result = run([2, 2, 0, 0]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('the front axle has the smaller tyres');
  });
});
