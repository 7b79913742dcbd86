import { logSum, MEMORIES, type Prepared, shapeFactor } from './evidence.js';
import type { Shape } from './shape.js';

/** Belief that a measure holds a change at all, while its autocorrelation is learned. */
const CHANGED = 0.1;
/**
 * Share of what the other measures tell that is believed: they share drives, roads and fuel, so they are not as many
 * independent witnesses as they are measures. Common practice (tempered likelihood), no source for the half.
 */
const WITNESS = 0.5;
/** Share of the belief that a measure keeps for itself. */
const OWN = 0.1;

/**
 * ln likelihood of each autocorrelation from one measure, with or without an old drift in either direction: a drift
 * must not pass for memory.
 */
export function memoryLikelihood(prepared: readonly Prepared[], oldest: Shape | undefined): Float64Array {
  return Float64Array.from(prepared, (each) => {
    if (oldest === undefined) return each.log;
    const { higher, lower } = shapeFactor(each, oldest);
    const half = Math.log(CHANGED / 2);
    return each.log + logSum([Math.log(1 - CHANGED), half + higher, half + lower]);
  });
}

/**
 * How likely each autocorrelation is for one measure before its own data: what the other measures of the car say, and a
 * share of {@link MEMORIES}. Partial pooling: H. Robbins, Proc. Third Berkeley Symposium 1 (1956) 157 (from memory).
 */
export function memoryPriors(likelihoods: readonly (Float64Array | undefined)[]): (Float64Array | undefined)[] {
  const sums = new Float64Array(MEMORIES.length);
  for (const each of likelihoods) if (each !== undefined) for (let k = 0; k < sums.length; k++) sums[k]! += each[k]!;
  return likelihoods.map((own) => {
    if (own === undefined) return undefined;
    const logs = MEMORIES.map(({ prior }, k) => Math.log(prior) + WITNESS * (sums[k]! - own[k]!));
    const total = logSum(logs);
    return Float64Array.from(logs, (log, k) => (1 - OWN) * Math.exp(log - total) + OWN * MEMORIES[k]!.prior);
  });
}
