import { expect, it } from 'vitest';
import { airDensity } from '../../src/physics/air.js';
import { compressorOutlet, coolerEffectiveness, orificeFlow } from '../../src/physics/compressor.js';

it('compressor outlet: textbook example of an adiabatic air compressor', () => {
  // Cengel & Boles, Thermodynamics, adiabatic compressor of 80 %, 100 kPa and 12 °C to 800 kPa: 569.5 K with variable
  // heat capacity (from memory). A constant ratio of 1.4 gives 574 K: within 1 % far beyond the domain of 4.
  const outlet = compressorOutlet(12, 8, 0.8) + 273.15;
  expect(Math.abs(outlet / 569.5 - 1)).toBeLessThan(0.01);
  // Ideal gas, isentropic: T2/T1 = r^(2/7), here 2^(2/7) = 1.21901.
  expect((compressorOutlet(20, 2, 1) + 273.15) / 293.15).toBeCloseTo(1.21901, 5);
  expect(compressorOutlet(20, 0.9, 0.7)).toBeCloseTo(20, 12);
  expect(compressorOutlet(Number.NaN, 2, 0.7)).toBeNaN();
});

it('cooler effectiveness is 1 at ambient, 0 at the inlet, and nothing without a difference', () => {
  expect(coolerEffectiveness(120, 20, 20)).toBe(1);
  expect(coolerEffectiveness(120, 120, 20)).toBe(0);
  expect(coolerEffectiveness(120, 45, 20)).toBeCloseTo(0.75, 12);
  expect(coolerEffectiveness(20, 20, 20)).toBeNaN();
});

it('orifice: choked flow of air is 0.0404 p / sqrt(T) per m2, and small drops follow Bernoulli', () => {
  // Air, k = 1.4, R = 287: m sqrt(T) / (p A) = 0.0404 kg K^0.5 / (N s), gas dynamics tables (from memory).
  const choked = orificeFlow(100, 200, 100, 20) / 1000;
  expect(choked / ((0.0404 * 200e3 * 100e-6) / Math.sqrt(293.15))).toBeCloseTo(1, 2);
  expect(orificeFlow(100, 200, 50, 20)).toBeCloseTo(1000 * choked, 9);
  const bernoulli = 100e-6 * Math.sqrt(2 * airDensity(101, 20) * 1000);
  expect(orificeFlow(100, 101, 100, 20) / 1000 / bernoulli).toBeCloseTo(1, 1);
  expect(orificeFlow(100, 100, 101, 20)).toBe(0);
});
