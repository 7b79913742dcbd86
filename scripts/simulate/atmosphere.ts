/** International standard atmosphere, troposphere only (ISO 2533:1975): valid from -2 to 11 km geopotential. */
const EARTH_RADIUS = 6356766; // m, ISO 2533
const LAPSE = 0.0065; // K/m
const T0 = 288.15; // K
const P0 = 101325; // Pa
export const GAS_CONSTANT = 287.05287; // J/(kg K)
export const GRAVITY = 9.80665; // m/s2
const EXPONENT = GRAVITY / (LAPSE * GAS_CONSTANT);

/** Standard temperature (K), pressure (Pa) and density (kg/m3) at a geometric altitude in metres. */
export function standardAtmosphere(altitude: number): { temperature: number; pressure: number; density: number } {
  const geopotential = (EARTH_RADIUS * altitude) / (EARTH_RADIUS + altitude);
  const temperature = T0 - LAPSE * geopotential;
  const pressure = P0 * (temperature / T0) ** EXPONENT;
  return { temperature, pressure, density: pressure / (GAS_CONSTANT * temperature) };
}

/** Density of dry air (kg/m3) from pressure (Pa) and temperature (K). */
export function airDensity(pressure: number, temperature: number): number {
  return pressure / (GAS_CONSTANT * temperature);
}
