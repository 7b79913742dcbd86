import { describe, expect, it } from 'vitest';
import { LEARNED_RATIOS, type LearnedRatios } from '../../src/derived/ratio-clusters.js';
import { isRefusal } from '../../src/derived/recipe.js';
import type { Vehicle } from '../../src/vehicle/vehicle.js';
import { driveOf, sampled } from './helpers.js';

const HZ = 10;
const ROWS = 3000;
/** rpm per km/h. */
const GEARS = [110, 70, 45];

const gear = (t: number): number => (t < 60 ? 0 : 1 + (Math.floor((t - 60) / 40) % 2));
/** A minute at 8 km/h on full lock in first gear, then gears two and three in turn; no standstill. */
const speed = (t: number): number => (t < 60 ? 8 + 0.6 * Math.sin(0.5 * t) : 40 + 12 * Math.sin(0.4 * t));
/** Front wheels run ahead by 1 / cos(33 deg) on full lock; geometry of a car that rolls without slip. */
const ahead = (t: number): number => (t < 50 ? 1 / Math.cos((33 * Math.PI) / 180) : 1);

function learned(channels: Readonly<Record<string, ArrayLike<number>>>, vehicle: Partial<Vehicle> = {}): LearnedRatios {
  const found = driveOf({ hz: HZ, channels, vehicle }).derive(LEARNED_RATIOS);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

const engine = (slip: (t: number) => number = () => 0) =>
  sampled(ROWS, HZ, (t) => GEARS[gear(t)]! * speed(t) * (1 + slip(t)), 0.25);
const rear = (factor: number) => sampled(ROWS, HZ, (t) => speed(t) * factor, 0.01);
const front = (factor: number) => sampled(ROWS, HZ, (t) => speed(t) * ahead(t) * factor, 0.01);
const wheels = {
  'wheelSpeed.frontLeft': front(0.92),
  'wheelSpeed.frontRight': front(1.08),
  'wheelSpeed.rearLeft': rear(0.9),
  'wheelSpeed.rearRight': rear(1.1),
};

function expectGears({ ratios }: LearnedRatios, within: number, gears: readonly number[] = GEARS): void {
  expect(ratios).toHaveLength(gears.length);
  ratios.forEach(({ value }, g) => {
    expect(Math.abs(value / gears[g]! - 1)).toBeLessThan(within);
  });
}

describe('speed that the gearbox is geared to', () => {
  it('is that of the driven axle: a manoeuvre on full lock moves first gear by 19 % on the other one', () => {
    expectGears(learned({ engineSpeed: engine(), ...wheels }, { driveline: { driven: 'rear' } }), 0.003);
  });

  it('with the driven axle unknown takes no ratio in a tight bend, by steering angle or by the wheels of one axle', () => {
    const steeringAngle = sampled(ROWS, HZ, (t) => (t < 50 ? 480 : 2 * Math.sin(t)), 0.5);
    expectGears(learned({ engineSpeed: engine(), ...wheels, steeringAngle }), 0.003);
    expectGears(
      learned({
        engineSpeed: engine(),
        'wheelSpeed.frontLeft': front(1),
        'wheelSpeed.frontRight': front(1),
        'wheelSpeed.rearLeft': sampled(ROWS, HZ, (t) => speed(t) * (t < 50 ? 0.85 : 1), 0.01),
        'wheelSpeed.rearRight': sampled(ROWS, HZ, (t) => speed(t) * (t < 50 ? 1.15 : 1), 0.01),
      }),
      0.003,
    );
  });

  it('of undriven wheels leaves tyre slip in the ratio: taken to zero acceleration, and told', () => {
    const slip = (t: number): number => (t < 60 ? 0 : 0.004 * 12 * 0.4 * Math.cos(0.4 * t));
    const found = learned({ engineSpeed: engine(slip), vehicleSpeed: rear(1) });
    expectGears(found, 0.003);
    // In a narrow band of speeds a late speed looks much like slip: both together are known better than each.
    expect(found.tyres).toBeGreaterThan(0.003);
    expect(Math.abs(found.lag)).toBeLessThan(0.05);
  });
});
