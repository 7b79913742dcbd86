import { expect, it } from 'vitest';
import { LEARNED_RATIOS } from '../../src/derived/ratio-clusters.js';
import { blocksOf, thinned } from '../../src/derived/ratio-parts.js';
import { RATIO_SAMPLES, RATIO_SOURCE } from '../../src/derived/ratio-samples.js';
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

it('hands out in blocks what stands in the whole, each measurement once, with what lies within reach around it', () => {
  const drive = longDrive();
  const [whole, source] = [drive.derive(RATIO_SAMPLES), drive.derive(RATIO_SOURCE)];
  if (isRefusal(whole) || isRefusal(source)) throw new Error('no samples');
  const { stride } = whole;
  let next = 0;
  for (const { data, own, first } of blocksOf(drive, source, 0.5)) {
    expect(first).toBe(next);
    next = first + own[1] - own[0];
    // Own measurements and one stride around them, which settle them.
    const from = Math.max(0, own[0] - stride);
    const to = Math.min(data.x.length, own[1] + stride);
    const begin = first - (own[0] - from);
    for (const key of ['row', 'time', 'v', 'n', 'x', 'u', 'growth', 'light', 'faint', 'open'] as const)
      expect(data[key].slice(from, to)).toEqual(whole[key].slice(begin, begin + to - from));
    if (first > 0) expect(data.time[from]! - data.time[0]!).toBeGreaterThan(0.5);
    if (next < whole.x.length) expect(data.time.at(-1)! - data.time[to - 1]!).toBeGreaterThan(0.5);
  }
  expect(next).toBe(whole.x.length);
});
