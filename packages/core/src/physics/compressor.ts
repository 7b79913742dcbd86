import { GAS_CONSTANT } from './air.js';

/** Ratio of specific heats of air at 20 to 100 °C; 1.40 within 0.3 %. ISO 2533:1975 uses 1.4. */
const HEAT_RATIO = 1.4;
const ZERO_CELSIUS = 273.15;

/**
 * NaN in gives NaN out; a ratio below 1 counts as 1. Temperature behind a compressor, degC:
 * T1 (1 + (r^((k - 1) / k) - 1) / eta), the isentropic efficiency solved for the outlet. Heywood, Internal Combustion
 * Engine Fundamentals (1988) section 6.8, from memory. Domain: adiabatic, dry air, ratio 1 to 4; heat from the turbine
 * housing comes on top and is left out.
 * @param inlet degC; @param ratio outlet over inlet pressure (absolute); @param efficiency isentropic, 0..1
 */
export function compressorOutlet(inlet: number, ratio: number, efficiency: number): number {
  const rise = Math.max(1, ratio) ** ((HEAT_RATIO - 1) / HEAT_RATIO) - 1;
  return (inlet + ZERO_CELSIUS) * (1 + rise / efficiency) - ZERO_CELSIUS;
}

/**
 * NaN in gives NaN out; NaN when the hot side is no warmer than the cold one. Effectiveness of a charge cooler:
 * (hot in - hot out) / (hot in - cold in), temperature ratio of the stream with the smaller heat capacity. Kays & London,
 * Compact Heat Exchangers, ch. 2, from memory. All in one unit of temperature.
 */
export function coolerEffectiveness(hotIn: number, hotOut: number, coldIn: number): number {
  return hotIn > coldIn ? (hotIn - hotOut) / (hotIn - coldIn) : Number.NaN;
}

/**
 * NaN in gives NaN out; 0 without a pressure drop. Mass flow, g/s, through an opening: area x pressure x flow function /
 * sqrt(R T), choked beyond the critical ratio. Heywood (1988) appendix C, from memory.
 * @param area effective, mm2; @param upstream, downstream kPa absolute; @param temperature degC upstream
 */
export function orificeFlow(area: number, upstream: number, downstream: number, temperature: number): number {
  if (downstream >= upstream) return 0;
  const k = HEAT_RATIO;
  const critical = (2 / (k + 1)) ** (k / (k - 1));
  const ratio = Math.max(critical, downstream / upstream);
  const flow = ratio ** (1 / k) * Math.sqrt(((2 * k) / (k - 1)) * (1 - ratio ** ((k - 1) / k)));
  // mm2 x kPa = 1e-3 N; kg/s to g/s.
  return (area * upstream * 1e-3 * flow * 1000) / Math.sqrt(GAS_CONSTANT * (temperature + ZERO_CELSIUS));
}
