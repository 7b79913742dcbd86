export interface LeastSquares {
  readonly coefficients: Float64Array;
  /** Inverse of the normal matrix, row by row: covariance over the variance of unit weight. */
  readonly inverse: Float64Array;
  /** Variance of unit weight: weighted squares of the residuals over rows less coefficients; NaN when none are left. */
  readonly variance: number;
  readonly rows: number;
}

/**
 * Rows with a NaN are skipped; fewer rows than coefficients, or columns that depend on each other, give undefined.
 * Weighted least squares by the normal equations and Cholesky's decomposition: Draper & Smith, Applied Regression
 * Analysis, ch. 5 and 9. For few, scaled columns; NIST StRD Norris is met to 9 digits.
 * @param columns one array a coefficient; @param weights inverse variances, 1 when left out
 */
export function leastSquares(
  columns: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  weights?: ArrayLike<number>,
): LeastSquares | undefined {
  const k = columns.length;
  const normal = new Float64Array(k * k);
  const right = new Float64Array(k);
  let rows = 0;
  for (let i = 0; i < y.length; i++) {
    const w = weights === undefined ? 1 : weights[i]!;
    if (!usable(columns, y, i) || !(w > 0)) continue;
    rows++;
    for (let a = 0; a < k; a++) {
      const x = w * columns[a]![i]!;
      right[a]! += x * y[i]!;
      for (let b = 0; b <= a; b++) normal[a * k + b]! += x * columns[b]![i]!;
    }
  }
  if (rows < k) return undefined;
  const inverse = inverted(normal, k);
  if (inverse === undefined) return undefined;
  const coefficients = new Float64Array(k);
  for (let a = 0; a < k; a++) for (let b = 0; b < k; b++) coefficients[a]! += inverse[a * k + b]! * right[b]!;
  let squares = 0;
  for (let i = 0; i < y.length; i++) {
    const w = weights === undefined ? 1 : weights[i]!;
    if (!usable(columns, y, i) || !(w > 0)) continue;
    let r = y[i]!;
    for (let a = 0; a < k; a++) r -= coefficients[a]! * columns[a]![i]!;
    squares += w * r * r;
  }
  return { coefficients, inverse, variance: rows > k ? squares / (rows - k) : Number.NaN, rows };
}

/** x' inverse x: variance of a fitted value at `x`, over the variance of unit weight. */
export function leverage(fit: LeastSquares, x: ArrayLike<number>): number {
  const k = fit.coefficients.length;
  let sum = 0;
  for (let a = 0; a < k; a++) for (let b = 0; b < k; b++) sum += x[a]! * fit.inverse[a * k + b]! * x[b]!;
  return sum;
}

function usable(columns: readonly ArrayLike<number>[], y: ArrayLike<number>, i: number): boolean {
  if (!Number.isFinite(y[i]!)) return false;
  for (const column of columns) if (!Number.isFinite(column[i]!)) return false;
  return true;
}

/** Inverse of a symmetric positive definite matrix of which the lower half is given; undefined when it is not. */
function inverted(lower: Float64Array, k: number): Float64Array | undefined {
  const l = new Float64Array(k * k);
  for (let a = 0; a < k; a++) {
    for (let b = 0; b <= a; b++) {
      let sum = lower[a * k + b]!;
      for (let c = 0; c < b; c++) sum -= l[a * k + c]! * l[b * k + c]!;
      if (a === b) {
        if (!(sum > 1e-12 * lower[a * k + a]!)) return undefined;
        l[a * k + a] = Math.sqrt(sum);
      } else l[a * k + b] = sum / l[b * k + b]!;
    }
  }
  const inverse = new Float64Array(k * k);
  const column = new Float64Array(k);
  for (let j = 0; j < k; j++) {
    for (let a = 0; a < k; a++) {
      let sum = a === j ? 1 : 0;
      for (let c = 0; c < a; c++) sum -= l[a * k + c]! * column[c]!;
      column[a] = sum / l[a * k + a]!;
    }
    for (let a = k - 1; a >= 0; a--) {
      let sum = column[a]!;
      for (let c = a + 1; c < k; c++) sum -= l[c * k + a]! * inverse[c * k + j]!;
      inverse[a * k + j] = sum / l[a * k + a]!;
    }
  }
  return inverse;
}
