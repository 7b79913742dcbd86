import { describe, expect, it } from 'vitest';
import { OIL_HOT_IDLE } from '../../src/derived/oil-hot-idle.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { clock, driveOf, type Signal } from '../rules/helpers.js';

/** Pressure of an oil that falls by `slope` per K and makes `at100` bar at 100 °C, with the noise of a sensor. */
const oil = (at100: number, slope: number, temperature: (t: number) => number) => (t: number) =>
  at100 * Math.exp(slope * (temperature(t) - 100)) + 0.01 * (((Math.round(t * 10) * 7919) % 5) - 2);

function idling(temperature: (t: number) => number, at100: number, slope: number, more: Record<string, Signal> = {}) {
  const time = clock(240, 10);
  return driveOf(time, {
    engineSpeed: (t) => 760 + ((Math.round(t * 10) * 31) % 7),
    vehicleSpeed: (t) => (t < 5 ? 10 : 0),
    pedalPosition: (t) => (t < 5 ? 20 : 0),
    engineOilTemperature: temperature,
    engineOilPressure: oil(at100, slope, temperature),
    ...more,
  }).derive(OIL_HOT_IDLE);
}

describe('oil pressure at hot idle, at one oil temperature', () => {
  it('finds the same pressure from oil of any warmth, by the slope of the drive itself', () => {
    for (const [from, to] of [
      [84, 96],
      [92, 104],
      [100, 115],
    ] as const) {
      const found = idling((t) => from + ((to - from) * t) / 240, 1.4, -0.024);
      if (isRefusal(found)) throw new Error(found.reason);
      expect(found.ownSlope).toBe(true);
      expect(Math.abs(found.pressure - 1.4), `${from} to ${to} °C`).toBeLessThan(Math.max(0.02, 3 * found.u));
      expect(found.u).toBeLessThan(0.1);
    }
  });

  it('takes a usual slope where the oil stands at one temperature, and says how little that tells', () => {
    const near = idling((t) => 99 + Math.sin(t / 20), 1.4, -0.024);
    const far = idling((t) => 84 + Math.sin(t / 20), 1.4, -0.024);
    if (isRefusal(near) || isRefusal(far)) throw new Error('refused');
    expect([near.ownSlope, far.ownSlope]).toEqual([false, false]);
    expect(Math.abs(near.pressure - 1.4)).toBeLessThan(2 * near.u + 0.01);
    expect(Math.abs(far.pressure - 1.4)).toBeLessThan(2 * far.u);
    // 16 K from the reference at 0.8 % per K: 13 %.
    expect(far.u / far.pressure).toBeCloseTo(0.128, 1);
    expect(near.u).toBeLessThan(far.u / 3);
  });

  it.each([0, -0.002, -0.01, -0.02, -0.027])(
    'does not contradict itself between drives when pressure falls by %d a K',
    (fall) => {
      const warm = idling((t) => 86 + Math.sin(t / 20), 1.27, fall);
      const swept = idling((t) => 90 + (20 * t) / 240, 1.27, fall);
      if (isRefusal(warm) || isRefusal(swept)) throw new Error('refused');
      expect([warm.ownSlope, swept.ownSlope]).toEqual([false, true]);
      expect(Math.abs(warm.pressure - swept.pressure)).toBeLessThan(2 * Math.hypot(warm.u, swept.u));
    },
  );

  it('says what is missing', () => {
    const absent = idling(() => 95, 1.4, -0.02, { engineOilTemperature: { values: () => Number.NaN } });
    expect(isRefusal(absent)).toBe(true);
    const cold = idling((t) => 40 + t / 100, 1.4, -0.02);
    expect(isRefusal(cold) && cold.missing.conditions.join()).toContain('80 °C');
  });
});
