/** One point of an exponentially weighted moving average. */
export interface EwmaPoint {
  readonly value: number;
  /** Control limits, which widen to their final width over the first points. */
  readonly low: number;
  readonly high: number;
}

/**
 * No NaN allowed; empty gives empty; `weight` outside (0, 1] throws RangeError. EWMA chart: S. W. Roberts, Technometrics 1
 * (1959) 239; limits NIST/SEMATECH e-Handbook 6.3.2.4, exact for each point. Where neighbours correlate at `rho`, the
 * limits are widened by the variance that a first-order autoregression gives the average: W. Schmid, Journal of
 * Statistical Planning and Inference 57 (1997) 199, final value.
 * @param sigma standard deviation of one value; @param width limits in standard deviations of the average
 */
export function ewma(
  values: ArrayLike<number>,
  { target, sigma, weight = 0.3, width = 3, rho = 0 }: EwmaSettings,
): EwmaPoint[] {
  if (!(weight > 0 && weight <= 1)) throw new RangeError(`ewma: weight is ${weight}, expected above 0 and at most 1`);
  const keep = 1 - weight;
  const wider = Math.sqrt((1 + rho * keep) / (1 - rho * keep));
  const points: EwmaPoint[] = [];
  let value = target;
  for (let i = 0; i < values.length; i++) {
    value = weight * values[i]! + keep * value;
    const share = (weight / (2 - weight)) * (1 - keep ** (2 * (i + 1)));
    const reach = width * sigma * wider * Math.sqrt(share);
    points.push({ value, low: target - reach, high: target + reach });
  }
  return points;
}

export interface EwmaSettings {
  readonly target: number;
  readonly sigma: number;
  readonly weight?: number;
  readonly width?: number;
  /** First autocorrelation of the values, -1..1. */
  readonly rho?: number;
}

/** One point of a tabular cumulative sum. */
export interface CusumPoint {
  /** How far the values ran above and below the target, less the allowance; never below 0. */
  readonly above: number;
  readonly below: number;
  /** Points since each sum was 0: the shift began before that many points. */
  readonly pointsAbove: number;
  readonly pointsBelow: number;
}

/**
 * No NaN allowed; empty gives empty. Tabular CUSUM: E. S. Page, Biometrika 41 (1954) 100; NIST/SEMATECH e-Handbook
 * 6.3.2.3. A signal is a sum beyond the decision interval.
 * @param allowance slack taken off at each point (half the shift that is looked for), in the unit of the values
 */
export function cusum(values: ArrayLike<number>, target: number, allowance: number): CusumPoint[] {
  const points: CusumPoint[] = [];
  let last: CusumPoint = { above: 0, below: 0, pointsAbove: 0, pointsBelow: 0 };
  for (let i = 0; i < values.length; i++) {
    const above = Math.max(0, last.above + values[i]! - target - allowance);
    const below = Math.max(0, last.below + target - values[i]! - allowance);
    last = {
      above,
      below,
      pointsAbove: above > 0 ? last.pointsAbove + 1 : 0,
      pointsBelow: below > 0 ? last.pointsBelow + 1 : 0,
    };
    points.push(last);
  }
  return points;
}
