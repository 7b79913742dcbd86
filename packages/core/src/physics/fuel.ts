/** Atomic masses, kg/kmol (IUPAC, abridged). */
const CARBON = 12.011;
const HYDROGEN = 1.008;
const OXYGEN = 15.999;
/** Moles of air per mole of oxygen, and kg/kmol of air (Heywood 1988, table 3.1, from memory). */
const AIR_PER_OXYGEN = 4.773;
const AIR = 28.9665;
/** kg/L at 15 degC: petrol EN 228 (0.720 to 0.775), ethanol. Common practice. */
const PETROL_DENSITY = 0.745;
const ETHANOL_DENSITY = 0.79;

/**
 * NaN in gives NaN out. Stoichiometric air-fuel ratio by mass of C H_y O_z. Heywood, Internal Combustion Engine
 * Fundamentals (1988) eq. 3.6 (with oxygen in the fuel), from memory.
 */
export function stoichiometricRatio(hydrogen: number, oxygen = 0): number {
  return ((1 + hydrogen / 4 - oxygen / 2) * AIR_PER_OXYGEN * AIR) / (CARBON + HYDROGEN * hydrogen + OXYGEN * oxygen);
}

/** kg of air per kg: petrol without ethanol (H/C 1.87), ethanol C2H6O. */
const PETROL_RATIO = stoichiometricRatio(1.87);
const ETHANOL_RATIO = stoichiometricRatio(3, 0.5);

/** NaN in gives NaN out. Stoichiometric air-fuel ratio of petrol with ethanol. @param ethanol share by volume, 0..1 */
export function blendRatio(ethanol: number): number {
  const alcohol = ethanol * ETHANOL_DENSITY;
  const petrol = (1 - ethanol) * PETROL_DENSITY;
  return (alcohol * ETHANOL_RATIO + petrol * PETROL_RATIO) / (alcohol + petrol);
}

/** NaN in gives NaN out. Fuel flow, g/s, that brings an air flow (g/s) to a lambda. @param ratio stoichiometric, by mass */
export function fuelFlow(air: number, lambda: number, ratio: number): number {
  return air / (lambda * ratio);
}
