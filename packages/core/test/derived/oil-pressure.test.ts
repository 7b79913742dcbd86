import { describe, expect, it } from 'vitest';
import { LATERAL } from '../../src/derived/lateral.js';
import { OIL_PRESSURE } from '../../src/derived/oil-pressure.js';
import { ownCells, ownLowest, ownSamplesOf } from '../../src/derived/oil-pressure-own.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { clock, driveOf, type Signal } from '../rules/helpers.js';

const time = clock(60, 10);
const wiggle = (t: number) => 0.01 * (Math.round(t * 10) % 2);

function pressureOf(signals: Record<string, Signal>) {
  const found = driveOf(time, {
    engineSpeed: (t) => (t < 10 ? 0 : 2500 + wiggle(t)),
    engineOilTemperature: { values: () => 95, quality: { rate: 1 } },
    ...signals,
  }).derive(OIL_PRESSURE);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe('OIL_PRESSURE', () => {
  it('takes off what an absolute sensor reads at rest', () => {
    const absolute = pressureOf({ engineOilPressure: (t) => (t < 10 ? 0.98 : 4.98) + wiggle(t) });
    expect(absolute.zero.kind).toBe('absolute');
    expect(absolute.pressure[300]).toBeCloseTo(4, 1);
    const gauge = pressureOf({ engineOilPressure: (t) => (t < 10 ? 0 : 4) + wiggle(t) });
    expect(gauge.zero.kind).toBe('gauge');
    expect(gauge.pressure[300]).toBeCloseTo(4, 1);
  });

  it('does not believe a sensor that never moves, and says what is absent', () => {
    const still = driveOf(time, { engineSpeed: (t) => 800 + 10 * t, engineOilPressure: () => 2 }).derive(OIL_PRESSURE);
    expect(isRefusal(still) && still.reason).toContain('never moves');
    const absent = driveOf(time, { engineSpeed: (t) => 800 + 10 * t }).derive(OIL_PRESSURE);
    expect(isRefusal(absent) && absent.missing.channels).toEqual(['engineOilPressure']);
  });

  it('knows the lowest usual pressure of a speed, or of the next lower one', () => {
    const { fresh, rpm, pressure, hot, hz } = pressureOf({
      engineOilPressure: (t) => (t < 10 ? 0 : t < 20 ? 2 : 4) + wiggle(t),
    });
    const cells = ownCells(ownSamplesOf(time, fresh, rpm, pressure, hot, undefined), hz);
    expect(ownLowest(cells, 2500, Number.NaN, 2000).pressure).toBeCloseTo(2, 1);
    expect(ownLowest(cells, 4200, 95, 2000).pressure).toBeCloseTo(2, 1);
    expect(ownLowest(cells, 2000, 95, 2000).pressure).toBeNaN();
    expect(ownLowest(cells, 4200, 95, 3000).pressure).toBeNaN();
  });
});

describe('LATERAL', () => {
  it('takes its rest value off the sensor', () => {
    const found = driveOf(time, {
      vehicleSpeed: (t) => (t < 10 ? 0 : 80 + wiggle(t)),
      lateralAcceleration: (t) => 0.4 + (t > 30 && t < 35 ? -7 : 0) + wiggle(t),
    }).derive(LATERAL);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found.source).toBe('lateralAcceleration');
    expect(found.values[320]).toBeCloseTo(-7, 1);
    expect(found.values[500]).toBeCloseTo(0, 1);
  });

  it('is yaw rate times speed without it: 20 m/s and 0.3 rad/s make 6 m/s2', () => {
    const found = driveOf(time, {
      vehicleSpeed: (t) => (t < 10 ? 0 : 72),
      yawRate: (t) => (t > 30 && t < 35 ? (0.3 * 180) / Math.PI : 0),
    }).derive(LATERAL);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found.source).toBe('yawRate');
    expect(found.values[320]).toBeCloseTo(6, 6);
  });

  it('says what is absent', () => {
    const found = driveOf(time, { vehicleSpeed: () => 50 }).derive(LATERAL);
    expect(isRefusal(found) && found.missing.channels).toEqual(['lateralAcceleration']);
  });
});
