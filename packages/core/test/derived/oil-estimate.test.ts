import { describe, expect, it } from 'vitest';
import { coldOil, OIL_ESTIMATE, type OilEstimate } from '../../src/derived/oil-estimate.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { clock, driveOf, type Signal } from '../rules/helpers.js';

const time = clock(900, 2);
const running: Signal = (t) => 1500 + 50 * Math.sin(t);
const estimateOf = (signals: Record<string, Signal>) =>
  driveOf(time, { engineSpeed: running, ...signals }).derive(OIL_ESTIMATE) as OilEstimate;
const row = (t: number): number => 2 * t;

describe('from the sensor', () => {
  it('is the sensor with its bounds, range ends left out', () => {
    const oil = estimateOf({ engineOilTemperature: (t) => (t < 30 ? -40 : Math.round(20 + t / 10)) });
    expect(oil.measured).toBe(true);
    expect(oil.values[row(10)]).toBeNaN();
    expect(oil.values[row(500)]).toBeCloseTo(70, 0);
    expect(oil.low[row(500)]!).toBeLessThan(oil.values[row(500)]!);
    expect(oil.high[row(500)]! - oil.values[row(500)]!).toBeLessThan(1.5);
  });
  it('does not believe one that never moves', () => {
    const signals = { engineOilTemperature: () => 20, coolantTemperature: (t: number) => Math.round(20 + t / 10) };
    expect(estimateOf(signals)).toMatchObject({ measured: false, source: 'coolantTemperature' });
    expect(
      isRefusal(driveOf(time, { engineSpeed: running, engineOilTemperature: () => 20 }).derive(OIL_ESTIMATE)),
    ).toBe(true);
  });
});

describe('from the coolant', () => {
  it('follows a ramp at the rate times the time constant behind it: first-order lag', () => {
    // After many time constants a ramp of 0.1 K/s is followed 30 x 0.1 = 3 K behind, by the slow bound 48 K (1 - e^-t/480).
    const oil = estimateOf({ coolantTemperature: (t) => 20 + t / 10 });
    expect(oil.values.length).toBe(time.length);
    expect(110 - oil.high[row(900)]!).toBeCloseTo(3, 0);
    expect(110 - oil.low[row(900)]!).toBeCloseTo(48 * (1 - Math.exp(-900 / 480)), 0);
    expect(oil.low[row(600)]!).toBeLessThan(oil.values[row(600)]!);
    expect(oil.values[row(600)]!).toBeLessThan(oil.high[row(600)]!);
  });
  it('may be cold or warm where the coolant was warm from the start', () => {
    const oil = estimateOf({ coolantTemperature: (t) => 88 + Math.round(2 * Math.sin(t / 20)) });
    expect(oil.high[0]).toBeGreaterThan(85);
    expect(oil.low[0]).toBe(0);
  });
});

it('cold rows are those of a running engine: surely within likely within possibly', () => {
  const signals = {
    engineSpeed: (t: number) => (t < 100 ? 0 : 1500 + 50 * Math.sin(t)),
    coolantTemperature: (t: number) => Math.min(90, 20 + t / 5),
  };
  const oil = driveOf(time, signals).derive(OIL_ESTIMATE) as OilEstimate;
  const cold = coldOil(oil, 60);
  const sum = (mask: Uint8Array) => mask.reduce((a, b) => a + b, 0);
  expect(cold.possibly[row(50)]).toBe(0);
  expect(cold.surely[row(150)]).toBe(1);
  expect(sum(cold.surely)).toBeLessThan(sum(cold.likely));
  expect(sum(cold.likely)).toBeLessThan(sum(cold.possibly));
});
