import type { Fuel } from '../../vehicle/vehicle.js';

/** Stoichiometric air-fuel ratio by mass of petrol without ethanol (Heywood 1988, table D.4: 14.6) and of ethanol (9.0). */
const PETROL = 14.6;
const ETHANOL = 9.0;
/** Densities, g/mL at 20 degC: petrol about 0.745 (EN 228 range), ethanol 0.789 (handbook values, from memory). */
const PETROL_DENSITY = 0.745;
const ETHANOL_DENSITY = 0.789;

/**
 * Stoichiometric air-fuel ratio of a blend, kg/kg, by mixing masses. Domain 0..100 % ethanol by volume; other input
 * gives NaN. E10 14.0, E85 9.8; published rounded values 14.1 and 9.8 (Heywood table D.4; US DOE property tables).
 */
export function stoichiometricRatio(ethanolPercent: number): number {
  if (!(ethanolPercent >= 0 && ethanolPercent <= 100)) return Number.NaN;
  const v = ethanolPercent / 100;
  const w = (v * ETHANOL_DENSITY) / (v * ETHANOL_DENSITY + (1 - v) * PETROL_DENSITY);
  return (1 - w) * PETROL + w * ETHANOL;
}

/** Trim, %, that a blend asks of an engine mapped for petrol without ethanol: same air, more fuel by the ratio. */
export function ethanolTrim(ethanolPercent: number): number {
  return 100 * (PETROL / stoichiometricRatio(ethanolPercent) - 1);
}

/** Ethanol, % by volume, that would explain a lean trim (%) by itself; NaN when none would. */
export function ethanolFor(trim: number): number {
  const w = (PETROL - PETROL / (1 + trim / 100)) / (PETROL - ETHANOL);
  if (!(w >= 0 && w <= 1)) return Number.NaN;
  return (100 * (w / ETHANOL_DENSITY)) / (w / ETHANOL_DENSITY + (1 - w) / PETROL_DENSITY);
}

/** Ethanol by volume of a fuel of the profile, %; NaN for petrol of unknown content. */
export function ethanolOf(fuel: Fuel | undefined): number {
  return fuel === undefined || fuel === 'petrol' ? Number.NaN : Number(fuel.slice(1));
}
