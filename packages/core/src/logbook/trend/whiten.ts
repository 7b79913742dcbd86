/** How the looks of a measure hang together: relative variance of each, and steps (in looks) since the one before. */
export interface Spread {
  /** Variance of each look over that of an ordinary one. */
  readonly variance: Float64Array;
  /** Steps since the look before, 1 and more; the first is not read. */
  readonly steps: Float64Array;
}

/** A spread with one autocorrelation: what makes columns independent and of equal variance. */
export interface Whitener {
  readonly rho: number;
  readonly logDeterminant: number;
  /** White value = own x value - before x value of the look before. */
  readonly own: Float64Array;
  readonly before: Float64Array;
}

/**
 * First-order autoregression over uneven steps: neighbours `d` steps apart correlate at rho^d. Its exact likelihood, so
 * the first look counts in full: J. D. Hamilton, Time Series Analysis (1994), 5.2 (from memory).
 */
export function whitener({ variance, steps }: Spread, rho: number): Whitener {
  const n = variance.length;
  const own = new Float64Array(n);
  const before = new Float64Array(n);
  let determinant = 1;
  let logDeterminant = 0;
  let scaleBefore = 1;
  for (let i = 0; i < n; i++) {
    const scale = 1 / Math.sqrt(variance[i]!);
    const step = steps[i]!;
    const kept = i === 0 || rho === 0 ? 0 : step === 1 ? rho : rho ** step;
    const rest = 1 - kept * kept;
    const share = 1 / Math.sqrt(rest);
    own[i] = share * scale;
    before[i] = share * kept * scaleBefore;
    scaleBefore = scale;
    determinant *= variance[i]! * rest;
    // Before the product runs out of range.
    if (!(determinant > 1e-100 && determinant < 1e100)) {
      logDeterminant += Math.log(determinant);
      determinant = 1;
    }
  }
  return { rho, logDeterminant: logDeterminant + Math.log(determinant), own, before };
}

/** No NaN allowed. The column made white, into `white`; the given one is not changed. */
export function whitened(
  { own, before }: Whitener,
  column: Float64Array,
  white: Float64Array = new Float64Array(column.length),
): Float64Array {
  let last = 0;
  for (let i = 0; i < column.length; i++) {
    const now = column[i]!;
    white[i] = own[i]! * now - before[i]! * last;
    last = now;
  }
  return white;
}
