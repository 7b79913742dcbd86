import { logSum, MEMORIES, type Prepared, shapeFactor } from './evidence.js';
import type { Shape } from './shape.js';

/** Belief that a measure holds a change at all, while its autocorrelation is learned. */
const CHANGED = 0.1;
/** Belief, before any data, that each measure of a car has an autocorrelation of its own. */
const APART = 0.05;
/** Share of the belief that a measure keeps for itself, however well the others agree: it may be the odd one out. */
const OWN = 0.01;

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
 * How likely each autocorrelation is for one measure before its own data. Either all measures of the car share one, which
 * the others tell, or each has its own out of {@link MEMORIES}; the others also say which of the two: a Bayes factor of
 * complete against no pooling (R. E. Kass & A. E. Raftery, Journal of the American Statistical Association 90 (1995) 773;
 * from memory). A measure without others gets {@link MEMORIES}.
 * @param likelihoods ln likelihood of each autocorrelation, by measure; undefined where a measure tells none
 */
export function memoryPriors(likelihoods: readonly (Float64Array | undefined)[]): (Float64Array | undefined)[] {
  const together = new Float64Array(MEMORIES.length);
  let apart = 0;
  const alone = likelihoods.map((each) => {
    if (each === undefined) return 0;
    for (let k = 0; k < together.length; k++) together[k]! += each[k]!;
    const log = logSum(MEMORIES.map(({ prior }, k) => Math.log(prior) + each[k]!));
    apart += log;
    return log;
  });
  return likelihoods.map((own, m) => {
    if (own === undefined) return undefined;
    const logs = MEMORIES.map(({ prior }, k) => Math.log(prior) + together[k]! - own[k]!);
    const total = logSum(logs);
    const odds = (APART / (1 - APART)) * Math.exp(apart - alone[m]! - total);
    const kept = OWN + (1 - OWN) * (odds === Number.POSITIVE_INFINITY ? 1 : odds / (1 + odds));
    return Float64Array.from(logs, (log, k) => (1 - kept) * Math.exp(log - total) + kept * MEMORIES[k]!.prior);
  });
}
