/**
 * Coefficients, oldest to newest, of the least-squares polynomial filter at the middle of an odd window: even or
 * too short a window, or an order below the derivative, throws RangeError. Savitzky & Golay, Anal. Chem. 36 (1964) 1627,
 * corrected by Steinier et al. (1972); computed by Gram polynomials (Gorry, Anal. Chem. 62 (1990) 570), so any size works.
 * @param derivative 0 smooths; k gives the k-th derivative per sample spacing^k
 */
export function savitzkyGolayCoefficients(window: number, order: number, derivative = 0): Float64Array {
  if (!Number.isInteger(window) || window % 2 === 0 || window <= order) {
    throw new RangeError(`savitzkyGolay: window is ${window}, expected an odd number above the order ${order}`);
  }
  if (!(order >= derivative && derivative >= 0)) {
    throw new RangeError(`savitzkyGolay: derivative ${derivative} of order ${order}, expected 0..order`);
  }
  const m = (window - 1) / 2;
  const result = new Float64Array(window);
  for (let i = -m; i <= m; i++) {
    let weight = 0;
    for (let k = 0; k <= order; k++) {
      const scale = ((2 * k + 1) * falling(2 * m, k)) / falling(2 * m + k + 1, k + 1);
      weight += scale * gram(i, m, k, 0) * gram(0, m, k, derivative);
    }
    result[i + m] = weight;
  }
  return result;
}

/**
 * NaN inside a window gives NaN at its middle; ends without a full window are NaN; empty gives empty.
 * @param spacing sample spacing; the k-th derivative is divided by spacing^k
 */
export function savitzkyGolay(
  values: ArrayLike<number>,
  window: number,
  order: number,
  derivative = 0,
  spacing = 1,
): Float64Array {
  const coefficients = savitzkyGolayCoefficients(window, order, derivative);
  const m = (window - 1) / 2;
  const n = values.length;
  const result = new Float64Array(n).fill(Number.NaN);
  const scale = 1 / spacing ** derivative;
  for (let i = m; i + m < n; i++) {
    let total = 0;
    for (let k = 0; k < window; k++) total += coefficients[k]! * values[i - m + k]!;
    result[i] = total * scale;
  }
  return result;
}

/** a (a - 1) … , b factors. */
function falling(a: number, b: number): number {
  let product = 1;
  for (let j = a - b + 1; j <= a; j++) product *= j;
  return product;
}

/** Gram polynomial of degree k over 2m + 1 points at i, or its s-th derivative (Gorry's recursion). */
function gram(i: number, m: number, k: number, s: number): number {
  if (k < 0 || s < 0) return 0;
  if (k === 0) return s === 0 ? 1 : 0;
  const a = (4 * k - 2) / (k * (2 * m - k + 1));
  const b = ((k - 1) * (2 * m + k)) / (k * (2 * m - k + 1));
  return a * (i * gram(i, m, k - 1, s) + s * gram(i, m, k - 1, s - 1)) - b * gram(i, m, k - 2, s);
}
