/** Pairs with a NaN are skipped; fewer than 2 pairs or no spread give NaN. Pearson's r. */
export function correlation(x: ArrayLike<number>, y: ArrayLike<number>): number {
  const { covariance: xy, varianceX, varianceY } = moments(x, y);
  const scale = Math.sqrt(varianceX) * Math.sqrt(varianceY);
  return scale > 0 ? xy / scale : Number.NaN;
}

/** NaN is not allowed (drop it first: gaps change the lag); fewer than 2 values or no spread give NaN. Lag-k autocorrelation as NIST StRD defines it. */
export function autocorrelation(x: ArrayLike<number>, lag = 1): number {
  const n = x.length;
  if (n <= lag) return Number.NaN;
  let m = 0;
  for (let i = 0; i < n; i++) m += (x[i]! - m) / (i + 1);
  let top = 0;
  let bottom = 0;
  for (let i = 0; i < n; i++) {
    const d = x[i]! - m;
    bottom += d * d;
    if (i >= lag) top += d * (x[i - lag]! - m);
  }
  return bottom > 0 ? top / bottom : Number.NaN;
}

interface Moments {
  readonly covariance: number;
  readonly varianceX: number;
  readonly varianceY: number;
}

function moments(x: ArrayLike<number>, y: ArrayLike<number>): Moments {
  const n = Math.min(x.length, y.length);
  let count = 0;
  let mx = 0;
  let my = 0;
  for (let i = 0; i < n; i++) {
    const a = x[i]!;
    const b = y[i]!;
    if (!Number.isFinite(a) || !Number.isFinite(b)) continue;
    count++;
    mx += (a - mx) / count;
    my += (b - my) / count;
  }
  let xx = 0;
  let yy = 0;
  let xy = 0;
  for (let i = 0; i < n; i++) {
    const a = x[i]! - mx;
    const b = y[i]! - my;
    if (!Number.isFinite(a) || !Number.isFinite(b)) continue;
    xx += a * a;
    yy += b * b;
    xy += a * b;
  }
  const divisor = count - 1;
  if (divisor < 1) return { covariance: Number.NaN, varianceX: Number.NaN, varianceY: Number.NaN };
  return { covariance: xy / divisor, varianceX: xx / divisor, varianceY: yy / divisor };
}
