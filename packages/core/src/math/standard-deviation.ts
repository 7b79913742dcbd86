import { standardDeviation as ofPopulation, sampleStandardDeviation } from 'simple-statistics';
import { asNumbers, finite } from './finite.js';

/** NaN is skipped; fewer than 2 values give NaN. Divisor n - 1 (sample), two passes. */
export function standardDeviation(values: ArrayLike<number>): number {
  const x = finite(values);
  return x.length < 2 ? Number.NaN : sampleStandardDeviation(asNumbers(x));
}

/** NaN is skipped; empty gives NaN. Divisor n (population), two passes. */
export function populationDeviation(values: ArrayLike<number>): number {
  const x = finite(values);
  return x.length === 0 ? Number.NaN : ofPopulation(asNumbers(x));
}
