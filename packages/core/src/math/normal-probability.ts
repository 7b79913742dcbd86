/**
 * NaN gives NaN. Cumulative probability of the standard normal law to 7.5e-8 of 1: Abramowitz & Stegun 26.2.17. For inner
 * loops; where the far tail matters, use the incomplete gamma function.
 */
export function normalProbability(z: number): number {
  const x = Math.abs(z);
  const t = 1 / (1 + 0.2316419 * x);
  const sum = t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  const tail = 0.3989422804014327 * Math.exp(-0.5 * x * x) * sum;
  return z > 0 ? 1 - tail : tail;
}

/**
 * NaN gives NaN; degrees <= 0 give NaN. The standard normal value with nearly the same cumulative probability as
 * Student's `t`: D. L. Wallace, Annals of Mathematical Statistics 30 (1959) 1124, bound 2.22 (from memory); within 0.02
 * of the value from 6 degrees on and |t| <= 6, 0.04 from 3.
 */
export function normalScore(t: number, degrees: number): number {
  const z = ((8 * degrees + 1) / (8 * degrees + 3)) * Math.sqrt(degrees * Math.log1p((t * t) / degrees));
  return t < 0 ? -z : z;
}
