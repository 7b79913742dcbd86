import { expect, it } from 'vitest';
import { ACCELERATION } from '../../src/derived/acceleration.js';
import { lagOf } from '../../src/derived/aligned.js';
import { CLOSED_LOOP } from '../../src/derived/closed-loop.js';
import { SHIFTS } from '../../src/derived/gear-shifts.js';
import { PULL_AWAYS } from '../../src/derived/pull-aways.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { SEGMENTS } from '../../src/derived/segments.js';
import { TRIP } from '../../src/derived/trip.js';
import { driveOf, sampled } from './helpers.js';

/** Processor time (s) to derive the shared words of so many rows at 100 Hz. */
function cost(rows: number): number {
  const hz = 100;
  const stop = (t: number): boolean => t % 120 < 15;
  const v = (t: number): number =>
    stop(t) ? 0 : Math.min(90, 12 * ((t % 120) - 15)) * (t % 120 > 110 ? (120 - (t % 120)) / 10 : 1);
  const drive = driveOf({
    hz,
    channels: {
      vehicleSpeed: sampled(rows, hz, (t) => v(t), 1),
      engineSpeed: sampled(rows, hz, (t) => Math.max(780, 30 * v(t)) + 20 * Math.sin(7 * t), 0.25, 5),
      pedalPosition: sampled(rows, hz, (t) => (stop(t) ? 16 : t % 120 < 20 ? 86 : 30 + 5 * Math.sin(t)), 0.392, 5),
      engineLoad: sampled(rows, hz, (t) => (stop(t) ? 22 : 40 + 10 * Math.sin(t)), 0.392, 10),
      coolantTemperature: sampled(rows, hz, (t) => Math.min(90, 20 + t / 10), 1, 50),
      'fuelTrimShort.bank1': sampled(rows, hz, (t) => 3 * Math.sin(2 * t), 0.78, 10),
    },
  });
  const before = process.cpuUsage();
  for (const recipe of [SEGMENTS, ACCELERATION, CLOSED_LOOP, SHIFTS, PULL_AWAYS, TRIP])
    expect(isRefusal(drive.derive<unknown>(recipe as never))).toBe(false);
  expect(lagOf(drive, 'engineSpeed', 'vehicleSpeed')).toBeDefined();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

it('derives all shared words in a time that grows with the rows, not with their square', () => {
  cost(50_000);
  const [short, long] = [cost(50_000), cost(500_000)];
  // Ten times the rows: about ten times the work, a hundred times if something were quadratic. No clock is asked.
  expect(long).toBeLessThan(35 * short);
  console.info(`derived in ${long.toFixed(2)} s of processor time, ${(long / short).toFixed(1)} times that of a tenth`);
});
