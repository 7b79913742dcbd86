import { GAS_CONSTANT } from './air.js';

/** g/L; the density to which absolute load refers (SAE J1979 PID 43, from memory): dry air at 25 degC and 101.325 kPa. */
export const LOAD_DENSITY = 1.184;

/**
 * NaN in gives NaN out. Air flow of a four-stroke engine, g/s: filling x p / (R T) x Vd x n / 2 (speed density).
 * Heywood, Internal Combustion Engine Fundamentals (1988) eq. 2.27, from memory.
 * @param pressure kPa absolute in the manifold; @param temperature degC there; @param filling volumetric efficiency, 1;
 * @param displacement L; @param speed rpm
 */
export function speedDensity(
  pressure: number,
  temperature: number,
  filling: number,
  displacement: number,
  speed: number,
): number {
  return (filling * pressure * 1000 * displacement * speed) / (GAS_CONSTANT * (temperature + 273.15) * 120);
}

/** NaN in gives NaN out. Filling (volumetric efficiency), 1, of an air flow (g/s); arguments as {@link speedDensity}. */
export function fillingOf(
  flow: number,
  pressure: number,
  temperature: number,
  displacement: number,
  speed: number,
): number {
  return flow / speedDensity(pressure, temperature, 1, displacement, speed);
}

/**
 * NaN in gives NaN out. Absolute load, %: air per intake stroke over displacement at 1.184 g/L. SAE J1979 PID 43
 * (from memory). @param flow g/s; @param displacement L; @param speed rpm
 */
export function absoluteLoad(flow: number, displacement: number, speed: number): number {
  return ((flow * 120) / speed / (LOAD_DENSITY * displacement)) * 100;
}
