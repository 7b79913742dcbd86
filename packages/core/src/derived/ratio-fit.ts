import { quantileInPlace } from '../math/quantile.js';
import type { RatioSamples } from './ratio-samples.js';

/** Residual (in robust standard deviations) beyond which a measurement has no say. */
const OUTSIDE = 4;

/**
 * One constant for each gear and bounded coefficients of the columns by weighted least squares; the residual of each member, and
 * the sums of squares and products of the columns.
 */
export function fitted(
  y: Float64Array,
  columns: readonly (Float64Array | undefined)[],
  bounds: readonly (readonly [number, number])[],
  weight: Float64Array,
  member: Int8Array,
  clusters: number,
): { readonly x: readonly number[]; readonly residual: Float64Array; readonly a: readonly (readonly number[])[] } {
  const means = columns.map((column) => groupMeans(column, weight, member, clusters));
  const level = groupMeans(y, weight, member, clusters);
  // What was not looked for is a column of zeros: its mean is 0 as well.
  const centred = columns.map((column, i) => (column === undefined ? undefined : less(column, means[i]!, member)));
  const distance = less(y, level, member);
  const a = centred.map((one) => centred.map((other) => product(one, other, weight, member)));
  const b = centred.map((one) => product(one, distance, weight, member));
  const x = bounded(a, b, bounds);
  const residual = distance;
  for (const [i, column] of centred.entries()) if (column !== undefined) take(residual, x[i]!, column);
  return { x, residual, a };
}

/** Members less the mean of their group; 0 for all others. */
function less(values: Float64Array, means: Float64Array, member: Int8Array): Float64Array {
  const found = new Float64Array(values.length);
  for (let k = 0; k < found.length; k++) {
    const c = member[k]!;
    if (c >= 0) found[k] = values[k]! - means[c]!;
  }
  return found;
}

/** Weighted sum of products over the members. */
function product(
  one: Float64Array | undefined,
  other: Float64Array | undefined,
  weight: Float64Array,
  member: Int8Array,
): number {
  if (one === undefined || other === undefined) return 0;
  let sum = 0;
  for (let k = 0; k < weight.length; k++) if (member[k]! >= 0) sum += weight[k]! * one[k]! * other[k]!;
  return sum;
}

function take(from: Float64Array, factor: number, column: Float64Array): void {
  for (let k = 0; k < from.length; k++) from[k] = from[k]! - factor * column[k]!;
}

/** Biweights by the residuals (Mosteller & Tukey, Data Analysis and Regression, 1977, ch. 10). */
export function reweigh(data: RatioSamples, residual: Float64Array, member: Int8Array, weight: Float64Array): void {
  const spread = Math.max(0.0005, 1.4826 * quantileInPlace(offOf(residual, member), 0.5));
  biweigh(data.u, residual, spread, member, weight);
}

/** Amounts of the residuals of the members. */
function offOf(residual: Float64Array, member: Int8Array): Float64Array {
  const off = new Float64Array(member.length);
  let count = 0;
  for (let k = 0; k < member.length; k++) if (member[k]! >= 0) off[count++] = Math.abs(residual[k]!);
  return off.subarray(0, count);
}

function biweigh(
  u: Float64Array,
  residual: Float64Array,
  spread: number,
  member: Int8Array,
  weight: Float64Array,
): void {
  for (let k = 0; k < member.length; k++) {
    if (member[k]! < 0) continue;
    const own = u[k]! * u[k]!;
    const z2 = residual[k]! ** 2 / (OUTSIDE * OUTSIDE * (own + spread * spread));
    weight[k] = z2 >= 1 ? 0 : (1 - z2) ** 2 / own;
  }
}

function groupMeans(
  column: Float64Array | undefined,
  weight: Float64Array,
  member: Int8Array,
  clusters: number,
): Float64Array {
  const sums = new Float64Array(clusters);
  const weights = new Float64Array(clusters);
  if (column === undefined) return sums;
  addUp(column, weight, member, sums, weights);
  for (let c = 0; c < clusters; c++) sums[c] = weights[c]! > 0 ? sums[c]! / weights[c]! : 0;
  return sums;
}

// Loops over measurements stand in functions of their own: a larger one would be compiled anew at the end of each loop.

function addUp(
  column: Float64Array,
  weight: Float64Array,
  member: Int8Array,
  sums: Float64Array,
  weights: Float64Array,
): void {
  for (let k = 0; k < member.length; k++) {
    const c = member[k]!;
    if (c < 0) continue;
    sums[c]! += weight[k]! * column[k]!;
    weights[c]! += weight[k]!;
  }
}

/** Least squares within bounds by coordinate descent (Gauss-Seidel): few unknowns, well scaled by their own diagonal. */
function bounded(
  a: readonly (readonly number[])[],
  y: readonly number[],
  bounds: readonly (readonly [number, number])[],
): number[] {
  const x = y.map(() => 0);
  for (let pass = 0; pass < 100; pass++) {
    for (let i = 0; i < x.length; i++) {
      const diagonal = a[i]![i]!;
      if (!(diagonal > 0)) continue;
      let rest = y[i]!;
      for (let j = 0; j < x.length; j++) if (j !== i) rest -= a[i]![j]! * x[j]!;
      x[i] = Math.max(bounds[i]![0], Math.min(bounds[i]![1], rest / diagonal));
    }
  }
  return x;
}
