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

/** NaN in gives NaN out. Share by mass of ethanol in a blend. @param ethanol share by volume, 0..1 */
function massShare(ethanol: number): number {
  const alcohol = ethanol * ETHANOL_DENSITY;
  return alcohol / (alcohol + (1 - ethanol) * PETROL_DENSITY);
}

/**
 * NaN or outside 0..1 gives NaN. Stoichiometric air-fuel ratio of petrol with ethanol, by mixing masses: E0 14.6, E10
 * 14.0, E85 9.8, ethanol 9.0 (published rounded values 14.6, 14.1, 9.8, 9.0: Heywood 1988 table D.4; US DOE
 * alternative-fuel property tables). @param ethanol share by volume, 0..1
 */
export function blendRatio(ethanol: number): number {
  if (!(ethanol >= 0 && ethanol <= 1)) return Number.NaN;
  const w = massShare(ethanol);
  return w * ETHANOL_RATIO + (1 - w) * PETROL_RATIO;
}

/** NaN in gives NaN out. Density of petrol with ethanol at 15 degC, kg/L, volumes added. @param ethanol share by volume, 0..1 */
export function blendDensity(ethanol: number): number {
  return ethanol * ETHANOL_DENSITY + (1 - ethanol) * PETROL_DENSITY;
}

/** J/kg: heating value of petrol without ethanol and of ethanol (Heywood 1988, table D.4, from memory). */
const PETROL_HEAT = 43e6;
const ETHANOL_HEAT = 26.9e6;

/** NaN in gives NaN out. Heat, J, that a kg of air burns at lambda 1. @param ethanol share by volume, 0..1 */
export function heatPerAir(ethanol: number): number {
  const w = massShare(ethanol);
  return (w * ETHANOL_HEAT + (1 - w) * PETROL_HEAT) / blendRatio(ethanol);
}

/**
 * NaN in gives NaN out. Trim, %, that a blend asks of an engine mapped for another one: same air, more fuel by the ratio
 * of the ratios. Petrol to E10 +4 %, to E85 +49 %. @param ethanol share by volume, 0..1; @param mapped the map's share
 */
export function ethanolTrim(ethanol: number, mapped = 0): number {
  return 100 * (blendRatio(mapped) / blendRatio(ethanol) - 1);
}

/** Ethanol, share by volume, that would explain a lean trim (%) over petrol by itself; NaN when none would. */
export function ethanolFor(trim: number): number {
  const w = (PETROL_RATIO - PETROL_RATIO / (1 + trim / 100)) / (PETROL_RATIO - ETHANOL_RATIO);
  if (!(w >= 0 && w <= 1)) return Number.NaN;
  return w / ETHANOL_DENSITY / (w / ETHANOL_DENSITY + (1 - w) / PETROL_DENSITY);
}

/** NaN in gives NaN out. Fuel flow, g/s, that brings an air flow (g/s) to a lambda. @param ratio stoichiometric, by mass */
export function fuelFlow(air: number, lambda: number, ratio: number): number {
  return air / (lambda * ratio);
}
