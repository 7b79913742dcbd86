import { describe, expect, it } from 'vitest';
import { scanRuns } from '../../src/recording/run.js';
import {
  cutEngineSpeed,
  frozenEngineSpeed,
  frozenFollower,
  frozenLink,
  frozenTemperature,
  frozenVehicleSpeed,
  saturatedStretches,
  type Trace,
} from '../../src/recording/stillness.js';
import { clock, noise, sampled } from './helpers.js';

function trace(values: Float64Array, period = 0.1): Trace {
  return { values, runs: scanRuns(values, new Int32Array(values.length)), period };
}

const time = clock(120, 10);
const random = noise(5);
const road = sampled(time, (t) => Math.round(60 + 30 * Math.sin(t / 8)));
const rpm = sampled(time, (t) => 1800 + 900 * Math.sin(t / 8) + 4 * random());
const stuck = (values: Float64Array, from: number, to: number) =>
  sampled(time, (t, i) => (t >= from && t < to ? values[Math.round(from * 10)]! : values[i]!));

describe('frozen', () => {
  it('finds an engine speed that stood still while the road speed changed', () => {
    const found = frozenEngineSpeed(trace(stuck(rpm, 40, 52)), trace(road), time);
    expect(found).toHaveLength(1);
    expect(found[0]!.from).toBeCloseTo(40, 6);
    expect(found[0]!.to).toBeCloseTo(51.9, 6);
  });

  it('keeps idle, cruise and a coarse quantum', () => {
    const idle = sampled(time, (t) => (t < 60 ? 700 : rpm[Math.round(t * 10)]!));
    const parked = sampled(time, (t) => (t < 60 ? 0 : road[Math.round(t * 10)]!));
    expect(frozenEngineSpeed(trace(idle), trace(parked), time)).toEqual([]);
    const cruise = sampled(time, (t) => (t < 60 ? 2000 : rpm[Math.round(t * 10)]!));
    const steady = sampled(time, (t) => (t < 60 ? 90 + Math.round(Math.sin(t)) : road[Math.round(t * 10)]!));
    expect(frozenEngineSpeed(trace(cruise), trace(steady), time)).toEqual([]);
    expect(frozenEngineSpeed(trace(rpm), undefined, time)).toEqual([]);
  });

  it('finds a road speed that stood still, not a parked car or a shift', () => {
    expect(frozenVehicleSpeed(trace(stuck(road, 20, 60)), trace(rpm), time)).toHaveLength(1);
    expect(frozenVehicleSpeed(trace(sampled(time, () => 0)), trace(rpm), time)).toEqual([]);
    expect(frozenVehicleSpeed(trace(stuck(road, 20, 30)), trace(rpm), time)).toEqual([]);
  });

  it('leaves a steady road speed alone that its kin confirm, or over which only the gear changed', () => {
    const steady = sampled(time, (t, i) => (t >= 20 && t < 60 ? 72 : road[i]!));
    // Converter and coasting: the engine speed moves while the car rolls on at one speed.
    const hunting = sampled(time, (t) => 1800 + 700 * Math.sin(t / 3) + 4 * random());
    const wheel = sampled(time, (_, i) => steady[i]! + 0.3 * random());
    expect(frozenVehicleSpeed(trace(steady), trace(hunting), time)).toHaveLength(1);
    expect(frozenVehicleSpeed(trace(steady), trace(hunting), time, [trace(wheel), trace(wheel)])).toEqual([]);
    const moving = sampled(time, (t) => 60 + 30 * Math.sin(t / 8) + 0.3 * random());
    expect(frozenVehicleSpeed(trace(steady), trace(hunting), time, [trace(moving), trace(moving)])).toHaveLength(1);
    // One of three wheels that fails says nothing against the other two.
    expect(
      frozenVehicleSpeed(trace(steady), trace(hunting), time, [trace(wheel), trace(moving), trace(wheel)]),
    ).toEqual([]);
    const shifted = sampled(time, (t) => (t < 34 ? 2600 : t > 36 ? 1800 : 2600 - 400 * (t - 34)) + 20 * random());
    expect(frozenVehicleSpeed(trace(steady), trace(shifted), time)).toEqual([]);
  });

  it.each([
    [0.04, 0],
    [0.09, 1],
  ])('kin that move by %d of their speed: %d', (share, count) => {
    const steady = sampled(time, (t, i) => (t >= 20 && t < 60 ? 100 : road[i]!));
    const hunting = sampled(time, (t) => 1800 + 700 * Math.sin(t / 3) + 4 * random());
    // 5 % and two steps of 1 km/h.
    const kin = sampled(time, (t) => 100 * (1 - (share / 2) * (1 + Math.sin(t / 2))));
    expect(frozenVehicleSpeed(trace(steady), trace(hunting), time, [trace(kin)])).toHaveLength(count);
  });

  it('finds a manifold pressure stuck in the middle, not one at its end', () => {
    const pressure = sampled(time, (t) => Math.round(70 + 30 * Math.sin(t / 3)));
    const fine = sampled(time, (t) => 70 + 30 * Math.sin(t / 3));
    expect(frozenFollower(trace(stuck(fine, 30, 60)), trace(rpm), time)).toHaveLength(1);
    expect(frozenFollower(trace(pressure), trace(rpm), time)).toEqual([]);
    const closed = sampled(time, (t) => (t > 30 && t < 60 ? 40 : Math.max(40, fine[Math.round(t * 10)]!)));
    expect(frozenFollower(trace(closed), trace(rpm), time)).toEqual([]);
  });

  it('finds a temperature that never moved only when another warmed up', () => {
    const long = clock(900, 1);
    const flat = trace(
      sampled(long, () => 21),
      1,
    );
    expect(frozenTemperature(flat, long, 60, 900)).toEqual([{ from: 0, to: 900 }]);
    expect(frozenTemperature(flat, long, 5, 900)).toEqual([]);
    expect(frozenTemperature(flat, long, 60, 300)).toEqual([]);
  });

  it('finds a lost link in which everything stood still at once, not key-on before the start', () => {
    const load = sampled(time, (t) => 40 + 30 * Math.sin(t / 2) + random());
    const map = sampled(time, (t) => 60 + 30 * Math.sin(t / 2.5) + random());
    const all = [rpm, load, map].map((v) => trace(stuck(v, 70, 90)));
    expect(frozenLink(all, all[0], time)).toHaveLength(1);
    const one = [trace(stuck(rpm, 70, 90)), trace(load), trace(map)];
    expect(frozenLink(one, one[0], time)).toEqual([]);
    const keyOn = [rpm, load, map].map((v, k) => trace(sampled(time, (t, i) => (t < 30 ? (k === 0 ? 0 : 15) : v[i]!))));
    expect(frozenLink(keyOn, keyOn[0], time)).toEqual([]);
  });
});

describe('an engine speed that is cut off', () => {
  const cap = (top: number, swing = 0) =>
    sampled(time, (_, i) => Math.round(Math.min(rpm[i]!, top + swing * random()) * 4) / 4);

  it('lies flat on its highest reading while the car gathers speed', () => {
    expect(cutEngineSpeed(trace(cap(2400)), trace(road), time).length).toBeGreaterThanOrEqual(2);
    expect(cutEngineSpeed(trace(rpm), trace(road), time)).toEqual([]);
  });

  it('is none at a limiter that swings, at a road speed that stands, in coarse steps, or without a road speed', () => {
    expect(cutEngineSpeed(trace(cap(2400, 20)), trace(road), time)).toEqual([]);
    const steady = sampled(time, (_, i) => Math.min(road[i]!, 70));
    expect(cutEngineSpeed(trace(cap(2400)), trace(steady), time)).toEqual([]);
    const capped = cap(2400);
    const coarse = sampled(time, (_, i) => Math.round(capped[i]! / 50) * 50);
    expect(cutEngineSpeed(trace(coarse), trace(road), time)).toEqual([]);
    expect(cutEngineSpeed(trace(cap(2400)), undefined, time)).toEqual([]);
  });
});

describe('saturated', () => {
  const pulls = sampled(time, (t) => 150 + 140 * Math.sin(t / 8));

  it('finds the end of the format', () => {
    const clipped = sampled(time, (_t, i) => Math.min(255, Math.round(pulls[i]!)));
    const found = saturatedStretches(trace(clipped), [255], trace(rpm), time);
    expect(found.length).toBeGreaterThanOrEqual(2);
    for (const stretch of found) expect(stretch.to - stretch.from).toBeGreaterThan(0.5);
  });

  it('finds a sensor that flattens twice at its own maximum', () => {
    const clipped = sampled(time, (_t, i) => Math.min(231.5, pulls[i]!));
    const sweep = sampled(time, (t) => 2500 + 1500 * Math.sin(t / 3));
    expect(saturatedStretches(trace(clipped), [255], trace(sweep), time).length).toBeGreaterThanOrEqual(2);
    expect(saturatedStretches(trace(clipped), [255], undefined, time)).toEqual([]);
  });

  it('keeps a controlled pressure and a pressure that peaks', () => {
    const controlled = sampled(time, (_t, i) => Math.min(220, Math.round(pulls[i]!)) + Math.round(1.4 * random()));
    expect(saturatedStretches(trace(controlled), [255], trace(rpm), time)).toEqual([]);
    expect(saturatedStretches(trace(pulls), [255], trace(rpm), time)).toEqual([]);
  });
});
