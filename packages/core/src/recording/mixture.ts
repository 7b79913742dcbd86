import { quantileSorted } from 'simple-statistics';

/** Air-fuel ratio that displays usually take for lambda 1 (common practice, no source). */
export const USUAL_BASE = 14.7;

/**
 * Ratios that displays divide by, besides the usual one: stoichiometric air-fuel ratios of petrol without ethanol and
 * of common fuels (from memory; Heywood, Internal Combustion Engine Fundamentals, table D.4 gives the petrol, ethanol,
 * methane and propane values).
 */
const KNOWN_BASES: readonly number[] = [14.7, 14.6, 14.5, 14.1, 9.8, 9.0, 15.6, 17.2];

/** Relative distance within which a median is taken for a known base. */
const TOLERANCE = 0.01;
/** Samples of closed-loop running needed before anything is confirmed. */
const MIN_SAMPLES = 60;

export interface MixtureBase {
  readonly base: number;
  /** True when the closed-loop median lies on `base`. */
  readonly confirmed: boolean;
  /** Median air-fuel ratio in steady closed loop; NaN when there is none. */
  readonly median: number;
  readonly samples: number;
}

/** What tells closed loop from full load and fuel cut; each may be absent. Same length as the ratio. */
interface MixtureWitness {
  readonly engineSpeed?: Float64Array;
  readonly engineLoad?: Float64Array;
  readonly manifoldPressure?: Float64Array;
  readonly coolantTemperature?: Float64Array;
  readonly lambdaTarget?: Float64Array;
}

/**
 * The ratio that a display divides by, from its own closed-loop running, where control holds lambda at 1 (commanded
 * 0.98 to 1.02 when the target is logged; else engine turning, warm, below 60 % load and 85 kPa). NaN samples are
 * stepped over; without at least 60 steady samples the usual base stands, unconfirmed.
 */
export function mixtureBase(ratio: Float64Array, witness: MixtureWitness): MixtureBase {
  const found: number[] = [];
  for (let i = 0; i < ratio.length; i++) {
    const x = ratio[i]!;
    if (!(x > 7.5 && x < 19)) continue;
    if (!closedLoop(witness, i)) continue;
    found.push(x);
  }
  const sorted = found.sort((a, b) => a - b);
  if (sorted.length < MIN_SAMPLES)
    return { base: USUAL_BASE, confirmed: false, median: Number.NaN, samples: sorted.length };
  const median = quantileSorted(sorted, 0.5);
  const near = sorted.filter((x) => Math.abs(x - median) <= 0.03 * median).length;
  const steady = near >= 0.6 * sorted.length;
  const base = KNOWN_BASES.find((known) => Math.abs(known - median) <= TOLERANCE * known);
  if (!steady || base === undefined) return { base: USUAL_BASE, confirmed: false, median, samples: sorted.length };
  return { base, confirmed: true, median, samples: sorted.length };
}

function closedLoop(witness: MixtureWitness, i: number): boolean {
  const { engineSpeed, engineLoad, manifoldPressure, coolantTemperature, lambdaTarget } = witness;
  if (engineSpeed !== undefined && !(engineSpeed[i]! > 500)) return false;
  if (coolantTemperature !== undefined && coolantTemperature[i]! < 60) return false;
  if (lambdaTarget !== undefined && !Number.isNaN(lambdaTarget[i]!)) {
    return Math.abs(lambdaTarget[i]! - 1) <= 0.02;
  }
  if (engineLoad !== undefined && engineLoad[i]! > 60) return false;
  return !(manifoldPressure !== undefined && manifoldPressure[i]! > 85);
}
