import { finite } from './finite.js';

/**
 * NaN is skipped; `size` below 1 or above the number of values gives NaN. Mean of the highest value over all choices of
 * `size` of the values: more repeats find a higher maximum by chance alone, so maxima of unequal groups are compared at
 * equal size. The i-th of n ordered values is the highest in C(i-1, size-1) of C(n, size) choices (hypergeometric count).
 */
export function expectedMaximum(values: ArrayLike<number>, size: number): number {
  const x = finite(values).sort();
  const n = x.length;
  if (size < 1 || size > n) return Number.NaN;
  // Share of the choices whose highest is x[i], from the top: size/n, then each times (i - size + 1) / i.
  let share = size / n;
  let sum = 0;
  for (let i = n - 1; i >= size - 1; i--) {
    sum += share * x[i]!;
    share *= (i - size + 1) / i;
  }
  return sum;
}
