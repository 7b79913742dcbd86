import { describe, expect, it } from 'vitest';
import { clutchSlip } from '../../../src/rules/transmission/clutch-slip.js';
import { car, driveOf } from '../helpers.js';
import { tell } from './gears.js';

/** rpm per km/h */
const RATIOS = [110, 70, 47, 36, 28, 23];
const HZ = 10;
const VEHICLE = car({ transmission: { kind: 'dual-clutch' }, engine: { ratedTorque: 500 } });

/** Every gear gently and on overrun, then pulls through third, fourth and fifth; the clutch of even gears slips in them. No gear column. */
function drive(slip: number) {
  const columns: number[][] = [[], [], [], []];
  const push = (v: number, n: number, torque: number): void => {
    columns[0]!.push(columns[0]!.length / HZ);
    columns[1]!.push(v);
    columns[2]!.push(n);
    columns[3]!.push(torque);
  };
  const hold = (g: number, seconds: number, from: number, to: number, torque: number, slips = 0): void => {
    for (let k = 0; k < seconds * HZ; k++) {
      const v = (from + ((to - from) * k) / (seconds * HZ)) / RATIOS[g - 1]!;
      push(Math.round(v * 10) / 10, (v * RATIOS[g - 1]!) / (1 - slips), torque);
    }
  };
  for (let k = 0; k < 5 * HZ; k++) push(0, 800, 0);
  for (let lap = 0; lap < 3; lap++) {
    for (const g of [1, 2, 3, 4, 5, 6]) {
      hold(g, 5, 1500, 2400, 90);
      hold(g, 6, 2400, 1800, -40);
    }
  }
  for (let pull = 0; pull < 3; pull++) {
    hold(3, 3, 3600, 5600, 480);
    hold(4, 3, 4300, 5600, 480, slip);
    hold(5, 3, 4360, 5300, 480);
    hold(6, 8, 4300, 1500, -40);
    hold(4, 0.5, 2400, 2400, 60);
    hold(3, 6, 3100, 3000, 60);
  }
  const [time, v, n, torque] = columns.map((column) => Float64Array.from(column));
  return driveOf(
    time!,
    { engineSpeed: n!, vehicleSpeed: v!, engineTorque: torque!, pedalPosition: torque!.map((x) => Math.max(0, x / 5)) },
    VEHICLE,
  );
}

describe('transmission.clutch-slip without a gear column', () => {
  it('clears gears that hold', () => {
    const told = tell(clutchSlip, drive(0));
    expect(told.outcome).toBe('clear');
    expect(told.measures?.stray).toBeUndefined();
  });

  it('leaves open what ran between two gears under load', () => {
    const told = tell(clutchSlip, drive(0.13));
    expect(told.outcome).toBe('unproven');
    expect(told.measures?.stray?.value).toBeGreaterThan(5);
    expect(told.summary).toContain('between two gears');
    expect(told.missing?.channels).toContain('gear');
  });
});
