/** J/(kg K), dry air; ISO 2533:1975 (287.05287). */
export const GAS_CONSTANT = 287.05287;
/** J/(kg K), water vapour; common textbook value, from memory. */
const VAPOUR_CONSTANT = 461.495;
const ZERO_CELSIUS = 273.15;
/** m/s2; standard acceleration of free fall, 3rd CGPM (1901), also ISO 2533:1975. */
export const GRAVITY = 9.80665;

/**
 * NaN in gives NaN out. Density of dry air, kg/m3 = g/L: p / (R T). ISO 2533:1975.
 * @param pressure kPa absolute; @param temperature degC
 */
export function airDensity(pressure: number, temperature: number): number {
  return (pressure * 1000) / (GAS_CONSTANT * (temperature + ZERO_CELSIUS));
}

/**
 * NaN in gives NaN out. Saturation pressure of water, kPa; Magnus form 0.61078 * 10^(7.5 t / (237.3 + t)) (Tetens 1930,
 * constants from memory). Domain 0 to 50 degC, within 0.5 %.
 */
export function saturationPressure(temperature: number): number {
  return 0.61078 * 10 ** ((7.5 * temperature) / (237.3 + temperature));
}

/**
 * NaN in gives NaN out. Density of moist air, kg/m3: dry air and vapour by Dalton's law.
 * @param pressure kPa absolute; @param temperature degC; @param humidity 0..1
 */
export function moistAirDensity(pressure: number, temperature: number, humidity: number): number {
  const vapour = humidity * saturationPressure(temperature);
  const kelvin = temperature + ZERO_CELSIUS;
  return ((pressure - vapour) * 1000) / (GAS_CONSTANT * kelvin) + (vapour * 1000) / (VAPOUR_CONSTANT * kelvin);
}

/**
 * NaN in gives NaN out. Pressure (kPa) and temperature (degC) of the standard atmosphere at a geopotential altitude.
 * ISO 2533:1975, troposphere: -2000 to 11000 m.
 */
export function standardAtmosphere(altitude: number): { readonly pressure: number; readonly temperature: number } {
  const kelvin = 288.15 - 0.0065 * altitude;
  return {
    pressure: 101.325 * (kelvin / 288.15) ** (GRAVITY / (0.0065 * GAS_CONSTANT)),
    temperature: kelvin - ZERO_CELSIUS,
  };
}
