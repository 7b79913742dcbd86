import { mean as meanOf, sum as sumOf } from 'simple-statistics';
import { asNumbers, finite } from './finite.js';

/** NaN is skipped; empty gives NaN. Compensated summation (Kahan-Babuska, by simple-statistics). */
export function mean(values: ArrayLike<number>): number {
  return meanOfNumbers(finite(values));
}

/** No NaN allowed; empty gives NaN. As {@link mean}, without looking at each value twice. */
export function meanOfNumbers(x: Float64Array): number {
  return x.length === 0 ? Number.NaN : meanOf(asNumbers(x));
}

/** NaN is skipped; empty gives 0. Compensated summation (Kahan-Babuska, by simple-statistics). */
export function sum(values: ArrayLike<number>): number {
  return sumOf(asNumbers(finite(values)));
}
