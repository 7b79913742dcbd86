import { normalQuantile } from './normal-quantile.js';
import { median } from './quantile.js';

export interface TheilSen {
  /** Median of the slopes of all pairs with different `x`; NaN when there is none. */
  readonly slope: number;
  /** Median of y - slope x. */
  readonly intercept: number;
  /** Bounds of the slope at `confidence`; the infinities when there are too few pairs. */
  readonly low: number;
  readonly high: number;
}

/**
 * No NaN allowed; fewer than two different `x` give NaN. Robust line: H. Theil, Indagationes Mathematicae 12 (1950) 85;
 * P. K. Sen, Journal of the American Statistical Association 63 (1968) 1379, also for the interval: the slopes at ranks
 * (N -+ z sqrt(Var S)) / 2 (R. O. Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), 16.5).
 */
export function theilSen(x: ArrayLike<number>, y: ArrayLike<number>, confidence = 0.95): TheilSen {
  const n = Math.min(x.length, y.length);
  const slopes: number[] = [];
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) if (x[j] !== x[i]) slopes.push((y[j]! - y[i]!) / (x[j]! - x[i]!));
  const slope = median(slopes);
  const intercept = median(Float64Array.from({ length: n }, (_, i) => y[i]! - slope * x[i]!));
  const sorted = slopes.sort((a, b) => a - b);
  const spread = normalQuantile((1 + confidence) / 2) * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18);
  const lower = Math.round((sorted.length - spread) / 2) - 1;
  const upper = Math.round((sorted.length + spread) / 2);
  return {
    slope,
    intercept,
    low: sorted.length === 0 ? Number.NaN : (sorted[lower] ?? Number.NEGATIVE_INFINITY),
    high: sorted.length === 0 ? Number.NaN : (sorted[upper] ?? Number.POSITIVE_INFINITY),
  };
}
