import { quantile } from '../math/quantile.js';
import { blendDensity, blendRatio } from '../physics/fuel.js';
import type { Fuel } from '../vehicle/vehicle.js';
import { type Drive, recipe } from './recipe.js';

export interface FuelKnowledge {
  /** Share of ethanol by volume, 0..1, and its standard uncertainty. */
  readonly ethanol: number;
  readonly ethanolU: number;
  /** Stoichiometric air-fuel ratio by mass, and its relative standard uncertainty. */
  readonly ratio: number;
  readonly ratioU: number;
  /** kg/L at 15 degC. */
  readonly density: number;
  /** `ethanolContent`, `profile` or `none`. */
  readonly source: 'ethanolContent' | 'profile' | 'none';
}

/** Petrol of unknown content: EN 228 allows up to 10 % of ethanol, most holds 5 to 10. Common practice, no source. */
const USUAL = { share: 0.07, u: 0.03 };
/** How far a named fuel may be off: "E85" holds 70 to 85 % (EN 15293), E10 at most 10 %. */
const NAMED_U = { pure: 0.005, low: 0.02, high: 0.05 };
/** A content sensor reads to about 3 points. Common practice, no source. */
const SENSOR_U = 0.03;
/** Relative standard uncertainty of the ratio of petrol itself: hydrogen to carbon 1.8 to 1.95. */
const PETROL_U = 0.006;

/** Ethanol by volume of a fuel of the profile, 0..1; NaN for petrol of unknown content. */
export function namedEthanol(fuel: Fuel | undefined): number {
  return fuel === undefined || fuel === 'petrol' ? Number.NaN : Number(fuel.slice(1)) / 100;
}

export const FUEL = recipe<FuelKnowledge>({
  id: 'fuel',
  about:
    'Fuel: ethanol share from the content channel, else from the profile, else petrol with 7 ± 3 %; stoichiometric ratio and density by mixing masses (Heywood 1988 eq. 3.6, table D.4).',
  compute(drive) {
    const { ethanol, u, source } = contentOf(drive);
    const ratio = blendRatio(ethanol);
    const slope = (blendRatio(Math.min(1, ethanol + 0.01)) - blendRatio(Math.max(0, ethanol - 0.01))) / 0.02 / ratio;
    return {
      ethanol,
      ethanolU: u,
      ratio,
      ratioU: Math.hypot(PETROL_U, slope * u),
      density: blendDensity(ethanol),
      source,
    };
  },
});

function contentOf(drive: Drive): { ethanol: number; u: number; source: FuelKnowledge['source'] } {
  const channel = drive.channel('ethanolContent');
  // A parameter that is not served reads 0 or its end throughout; no blend is 0 or 100 % to the point.
  if (channel !== undefined && channel.quality.samples > 0) {
    const content = quantile(channel.values, 0.5) / 100;
    if (content > 0 && content < 0.99) return { ethanol: content, u: SENSOR_U, source: 'ethanolContent' };
  }
  const named = namedEthanol(drive.vehicle.engine.fuel);
  if (Number.isNaN(named)) return { ethanol: USUAL.share, u: USUAL.u, source: 'none' };
  return {
    ethanol: named,
    u: named === 0 ? NAMED_U.pure : named <= 0.3 ? NAMED_U.low : NAMED_U.high,
    source: 'profile',
  };
}
