import { expect, it } from 'vitest';
import { LEARNED_RATIOS } from '../../src/derived/ratio-clusters.js';
import { RATIO_SAMPLES, thinned } from '../../src/derived/ratio-samples.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { driveOf, sampled } from './helpers.js';

/** rpm per km/h of a made-up six-speed gearbox. */
const RATIOS = [119, 86, 67.3, 55.3, 46.9, 40.7];

/** 460,000 rows at 100 Hz: every gear in turn, 8 s each, with a second of shift between. */
function longDrive() {
  const hz = 100;
  const rows = 460_000;
  const gear = (t: number): number => Math.floor(t / 9) % 6;
  const v = (t: number): number => 25 + 12 * gear(t) + 6 * Math.sin(0.7 * t);
  const n = (t: number): number => {
    const into = t % 9;
    const own = RATIOS[gear(t)]!;
    const last = RATIOS[(gear(t) + 5) % 6]!;
    return (into < 1 ? last + (own - last) * into : own) * v(t) * (1 + 0.003 * Math.sin(97 * t));
  };
  return driveOf({
    hz,
    channels: { vehicleSpeed: sampled(rows, hz, v, 0.01), engineSpeed: sampled(rows, hz, n, 0.25) },
  });
}

it('learns six gears of 460,000 rows at 100 Hz to 0.1 %, and gives every row its gear, in about half a second', () => {
  const drive = longDrive();
  const samples = drive.derive(RATIO_SAMPLES);
  if (isRefusal(samples)) throw new Error(samples.reason);
  // Time of the processor, not of the clock: other work on the machine does not count.
  const begin = process.cpuUsage();
  const learned = drive.derive(LEARNED_RATIOS);
  const seconds = process.cpuUsage(begin).user / 1e6;
  if (isRefusal(learned)) throw new Error(learned.reason);
  expect(learned.ratios).toHaveLength(6);
  learned.ratios.forEach(({ value }, g) => {
    expect(Math.abs(value / RATIOS[g]! - 1)).toBeLessThan(0.001);
  });
  let right = 0;
  let total = 0;
  for (let i = 0; i < drive.time.length; i++) {
    const t = drive.time[i]!;
    if (t % 9 < 1.5 || t % 9 > 8.5) continue;
    total++;
    if (learned.gear[i] === (Math.floor(t / 9) % 6) + 1) right++;
  }
  expect(right / total).toBeGreaterThan(0.995);
  // 5 s before measurements were thinned, 0.5 s since, on two shared cores.
  expect(seconds).toBeLessThan(4);
  console.info(`gears learned in ${seconds.toFixed(2)} s`);
});

it('thins long and dense recordings only, to 10 Hz at least, and keeps every array in step', () => {
  const samples = longDrive().derive(RATIO_SAMPLES);
  if (isRefusal(samples)) throw new Error(samples.reason);
  const few = thinned(samples);
  expect(few.x.length).toBe(46_000);
  expect(few.interval).toBeCloseTo(0.1, 9);
  expect(few.stride).toBe(3);
  for (const k of [0, 777, 45_999]) {
    expect([few.row[k], few.time[k], few.v[k], few.n[k], few.x[k]]).toEqual([
      samples.row[10 * k],
      samples.time[10 * k],
      samples.v[10 * k],
      samples.n[10 * k],
      samples.x[10 * k],
    ]);
  }
  expect(thinned(few)).toBe(few);
});
