import { describe, expect, it } from 'vitest';
import { EXHAUST_CONSTANT, exhaustFlow, exhaustVolumeFlow, gasViscosity } from '../../src/physics/exhaust.js';

describe('exhaust gas', () => {
  // C8H18 + 12.5 O2 + 47 N2 -> 8 CO2 + 9 H2O + 47 N2; atomic masses IUPAC, abridged. Heywood 1988, ch. 3 and 4.
  it('gas constant of burnt iso-octane at lambda 1', () => {
    const mass = 8 * (12.011 + 2 * 15.999) + 9 * (2 * 1.008 + 15.999) + 47 * 28.014;
    expect(Math.abs(EXHAUST_CONSTANT / (8314.462618 / (mass / 64)) - 1)).toBeLessThan(0.002);
  });

  // Law of ideal gases: a kilomole takes 22.414 m3 at 0 degC and 101.325 kPa (CODATA molar volume 22.413 97 L/mol).
  it('a kilomole of exhaust an hour takes 22.414 m3/h at 0 degC', () => {
    expect(exhaustVolumeFlow(28_600 / 3600, 0, 101.325)).toBeCloseTo(22.414, 2);
  });

  it('hotter gas takes more room, denser gas less', () => {
    expect(exhaustVolumeFlow(100, 546.3, 100) / exhaustVolumeFlow(100, 136.575, 100)).toBeCloseTo(2, 6);
    expect(exhaustVolumeFlow(100, 500, 200) / exhaustVolumeFlow(100, 500, 100)).toBeCloseTo(0.5, 9);
    expect(exhaustVolumeFlow(Number.NaN, 500, 100)).toBeNaN();
  });

  it('holds the fuel as well as the air', () => {
    expect(exhaustFlow(100, 14.5)).toBeCloseTo(106.897, 3);
    expect(exhaustFlow(100, 14.5, 0.8)).toBeCloseTo(108.621, 3);
  });

  // Air at 101.325 kPa, 1e-7 Pa s: Incropera & DeWitt, table A.4 (from memory).
  it.each([
    [300, 184.6],
    [400, 230.1],
    [600, 305.8],
    [800, 369.8],
    [1000, 424.4],
  ])('viscosity of air at %i K', (kelvin, tabled) => {
    expect(Math.abs(gasViscosity(kelvin - 273.15) / (tabled * 1e-7) - 1)).toBeLessThan(0.03);
  });
});
