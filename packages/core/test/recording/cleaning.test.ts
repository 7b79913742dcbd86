import { describe, expect, it } from 'vitest';
import { type Physics, removeImplausible, removeSentinels, removeSpikes } from '../../src/recording/cleaning.js';
import { scanRuns } from '../../src/recording/run.js';
import { clock, noise, sampled } from './helpers.js';

const COOLANT: Physics = { min: -40, max: 215, rate: 10, sentinels: [-40, 215] };
const SPEED: Physics = { min: 0, max: 400, rate: 60, sentinels: [255] };

function runs(values: Float64Array) {
  return scanRuns(values, new Int32Array(values.length));
}

function nans(values: Float64Array): number[] {
  return [...values.keys()].filter((i) => Number.isNaN(values[i]!));
}

describe('sentinels', () => {
  it('removes 215 degC reached at once from 90 and left at once', () => {
    const time = clock(60, 1);
    const values = sampled(time, (t) => (t >= 20 && t < 30 ? 215 : 90));
    const cleaned = removeSentinels(values, time, COOLANT, runs(values), 0);
    expect(cleaned.removed).toEqual({ count: 10, first: 20, last: 29 });
    expect(nans(values)).toEqual([]);
    expect(nans(cleaned.values)).toEqual([20, 21, 22, 23, 24, 25, 26, 27, 28, 29]);
  });

  it('removes -40 degC that lasts to the end', () => {
    const time = clock(10, 1);
    const values = sampled(time, (t) => (t > 6 ? -40 : 88));
    expect(removeSentinels(values, time, COOLANT, runs(values), 0).removed.count).toBe(4);
  });

  it('keeps 255 km/h that is driven through or clipped', () => {
    const time = clock(60, 1);
    const through = sampled(time, (t) => 200 + t * 1.25);
    const clipped = sampled(time, (t) => Math.min(255, 230 + t, 230 + (60 - t)));
    expect(removeSentinels(through, time, SPEED, runs(through), 0).removed.count).toBe(0);
    expect(removeSentinels(clipped, time, SPEED, runs(clipped), 0).removed.count).toBe(0);
  });

  it('removes 255 km/h out of standstill', () => {
    const time = clock(60, 10);
    const values = sampled(time, (t) => (t >= 30 && t < 31 ? 255 : 0));
    expect(removeSentinels(values, time, SPEED, runs(values), 0).removed.count).toBe(10);
  });

  it('grants a held value the whole refresh period', () => {
    const time = clock(20, 10);
    // 1 Hz refresh in a 10 Hz log: 230 -> 255 in one row is 25 km/h in one second.
    const values = sampled(time, (t) => (t < 10 ? 230 : t < 11 ? 255 : 280));
    expect(removeSentinels(values, time, SPEED, runs(values), 1).removed.count).toBe(0);
    expect(removeSentinels(values, time, SPEED, runs(values), 0).removed.count).toBe(10);
  });

  it('leaves a column that never leaves the sentinel to the test for constants', () => {
    const time = clock(10, 1);
    const values = sampled(time, () => -40);
    expect(removeSentinels(values, time, COOLANT, runs(values), 0).removed.count).toBe(0);
  });
});

describe('implausible values', () => {
  it('counts bit patterns as sentinels and the rest as implausible, and keeps the margin', () => {
    const raw = Float64Array.of(100, 65535, 1e10, 500, -0.53, Number.POSITIVE_INFINITY, Number.NaN);
    const removed = removeImplausible(raw, raw, SPEED);
    const { values } = removed;
    expect(removed.sentinel.count).toBe(3);
    expect(removed.implausible).toEqual({ count: 1, first: 3, last: 3 });
    expect(values[0]).toBe(100);
    expect(values[4]).toBe(-0.53);
    const clean = Float64Array.of(0, 100, Number.NaN);
    expect(removeImplausible(clean, clean, SPEED).values).toBe(clean);
  });
});

describe('spikes', () => {
  it('removes a lone jump in a quiet channel and in a busy one', () => {
    const time = clock(100, 1);
    const quiet = sampled(time, (t) => (t === 50 ? 150 : 90));
    expect(removeSpikes(quiet, time, COOLANT, runs(quiet), 0).removed).toEqual({ count: 1, first: 50, last: 50 });
    const fast = clock(60, 20);
    const random = noise(1);
    const busy = sampled(fast, (t, i) => (i === 400 ? 6000 : 2000 + 300 * Math.sin(t) + 5 * random()));
    const physics = { min: 0, max: 12000, rate: 20000, sentinels: [] };
    expect(removeSpikes(busy, fast, physics, runs(busy), 0.05).removed.count).toBe(1);
  });

  it('removes a spike that a slow logger repeated for several rows', () => {
    const time = clock(60, 10);
    const values = sampled(time, (_t, i) => (i >= 200 && i < 205 ? 9000 : 2000 + (i - (i % 5))));
    const physics = { min: 0, max: 12000, rate: 12000, sentinels: [] };
    expect(removeSpikes(values, time, physics, runs(values), 0.5).removed.count).toBe(5);
  });

  it('keeps a step that stays, a rise that is fast but possible, and steady noise', () => {
    const time = clock(100, 1);
    const step = sampled(time, (t) => (t < 50 ? 20 : 90));
    expect(removeSpikes(step, time, COOLANT, runs(step), 0).removed.count).toBe(0);
    const blip = sampled(time, (t) => (t === 50 ? 98 : 90));
    expect(removeSpikes(blip, time, COOLANT, runs(blip), 0).removed.count).toBe(0);
    const random = noise(2);
    const noisy = sampled(time, () => 90 + 40 * random());
    expect(removeSpikes(noisy, time, COOLANT, runs(noisy), 0).removed.count).toBe(0);
  });

  it('keeps a sensor that dithers by one step in a fast log', () => {
    const time = clock(20, 50);
    const values = sampled(time, (_t, i) => (i % 200 === 100 ? 91 : 90));
    expect(removeSpikes(values, time, COOLANT, runs(values), 0).removed.count).toBe(0);
  });

  it('never touches a channel whose events may jump', () => {
    const time = clock(100, 10);
    const knock = sampled(time, (_t, i) => (i === 500 ? 6 : 0));
    const physics = { min: 0, max: 30, rate: Number.POSITIVE_INFINITY, sentinels: [] };
    expect(removeSpikes(knock, time, physics, runs(knock), 0.1).removed.count).toBe(0);
  });
});
