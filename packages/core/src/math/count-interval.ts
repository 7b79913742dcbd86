import { chiSquareQuantile } from './gamma.js';
import { normalQuantile } from './normal-quantile.js';

export interface Bounds {
  readonly low: number;
  readonly high: number;
}

/**
 * Exposure 0 or NaN gives NaN; a count that is not a whole number >= 0, or a level outside 0..1, throws RangeError.
 * Exact two-sided confidence interval of a Poisson rate (count / exposure): Garwood, Biometrika 28 (1936) 437-442.
 */
export function garwoodInterval(count: number, exposure = 1, level = 0.95): Bounds {
  if (!Number.isInteger(count) || count < 0)
    throw new RangeError(`garwoodInterval: count is ${count}, expected 0, 1, 2, …`);
  checkLevel('garwoodInterval', level);
  if (!(exposure > 0)) return { low: Number.NaN, high: Number.NaN };
  const tail = (1 - level) / 2;
  return {
    low: count === 0 ? 0 : chiSquareQuantile(tail, 2 * count) / 2 / exposure,
    high: chiSquareQuantile(1 - tail, 2 * count + 2) / 2 / exposure,
  };
}

/**
 * No trials give 0..1 (nothing is known); successes outside 0..trials throw RangeError.
 * Wilson score interval of a share: Wilson, JASA 22 (1927) 209-212; Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3.
 */
export function wilsonInterval(successes: number, trials: number, level = 0.95): Bounds {
  if (!(successes >= 0 && successes <= trials)) {
    throw new RangeError(`wilsonInterval: ${successes} successes of ${trials} trials, expected 0..trials`);
  }
  checkLevel('wilsonInterval', level);
  if (trials === 0) return { low: 0, high: 1 };
  const z = normalQuantile(1 - (1 - level) / 2);
  const share = successes / trials;
  const z2 = (z * z) / trials;
  const centre = (share + z2 / 2) / (1 + z2);
  const reach = (z * Math.sqrt((share * (1 - share)) / trials + z2 / (4 * trials))) / (1 + z2);
  return {
    low: successes === 0 ? 0 : Math.max(0, centre - reach),
    high: successes === trials ? 1 : Math.min(1, centre + reach),
  };
}

/**
 * No trials on either side give -1..1 (nothing is known). Interval of the difference of two independent shares,
 * first less second, from the Wilson intervals of both: Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10.
 */
export function newcombeInterval(
  successes: number,
  trials: number,
  otherSuccesses: number,
  otherTrials: number,
  level = 0.95,
): Bounds {
  const a = wilsonInterval(successes, trials, level);
  const b = wilsonInterval(otherSuccesses, otherTrials, level);
  if (trials === 0 || otherTrials === 0) return { low: -1, high: 1 };
  const p = successes / trials;
  const q = otherSuccesses / otherTrials;
  return {
    low: Math.max(-1, p - q - Math.hypot(p - a.low, b.high - q)),
    high: Math.min(1, p - q + Math.hypot(a.high - p, q - b.low)),
  };
}

/**
 * `trials` below 1 gives 1 (nothing is known). Highest rate that still lets `trials` independent trials all succeed with
 * a probability of 1 - level: 1 - (1 - level)^(1/n), the exact one-sided bound of Clopper & Pearson, Biometrika 26
 * (1934) 404-413, for no event; near 3/n (the rule of three, Hanley & Lippman-Hand, JAMA 249 (1983) 1743-1745).
 */
export function noneSeenBound(trials: number, level = 0.95): number {
  checkLevel('noneSeenBound', level);
  return trials < 1 ? 1 : 1 - (1 - level) ** (1 / trials);
}

function checkLevel(who: string, level: number): void {
  if (!(level > 0 && level < 1)) throw new RangeError(`${who}: level is ${level}, expected between 0 and 1`);
}
