/** kg/kmol of burnt petrol and air at lambda 1: 8 CO2 + 9 H2O + 47 N2 of C8H18, 28.6 (Heywood 1988, ch. 4, from memory). */
const BURNT = 28.6;
/** J/(kmol K), exact since the SI of 2019. */
const MOLAR = 8314.462618;
/** J/(kg K) of burnt gas. */
export const EXHAUST_CONSTANT = MOLAR / BURNT;

/**
 * NaN in gives NaN out. Mass flow of exhaust, g/s, of an air flow burnt at a lambda: air and its fuel, nothing is lost.
 * @param air g/s; @param ratio stoichiometric air-fuel ratio by mass; @param lambda 1 when left out
 */
export function exhaustFlow(air: number, ratio: number, lambda = 1): number {
  return air * (1 + 1 / (lambda * ratio));
}

/**
 * NaN in gives NaN out. Volume flow of exhaust gas, m3/h, by the law of ideal gases: m R T / p. Domain: burnt gas at
 * lambda about 1; lambda 0.8 to 1.2 moves R by 3 %. @param flow g/s; @param temperature degC; @param pressure kPa absolute
 */
export function exhaustVolumeFlow(flow: number, temperature: number, pressure: number): number {
  return (flow * 3.6 * EXHAUST_CONSTANT * (temperature + 273.15)) / (pressure * 1000);
}
