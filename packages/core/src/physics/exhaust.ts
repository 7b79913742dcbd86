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

/** Sutherland's law for air: Pa s at K, and its constant, K (White, Viscous Fluid Flow, table 1-2, from memory). */
const SUTHERLAND = { viscosity: 1.716e-5, at: 273.15, constant: 110.4 } as const;

/**
 * NaN in gives NaN out. Dynamic viscosity of hot gas, Pa s, by Sutherland's law for air. Domain: -100 to 1600 degC within
 * 3 %; burnt gas of lambda about 1 lies within a few percent of air. @param temperature degC
 */
export function gasViscosity(temperature: number): number {
  const { viscosity, at, constant } = SUTHERLAND;
  const kelvin = temperature + 273.15;
  return (viscosity * (kelvin / at) ** 1.5 * (at + constant)) / (kelvin + constant);
}
