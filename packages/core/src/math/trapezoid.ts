/**
 * A step with a NaN at either end, or longer than `maxStep`, adds nothing; fewer than 2 samples give 0.
 * Integral of `values` over `time` by the trapezoidal rule.
 */
export function trapezoid(
  time: ArrayLike<number>,
  values: ArrayLike<number>,
  maxStep: number = Number.POSITIVE_INFINITY,
): number {
  const n = Math.min(time.length, values.length);
  let total = 0;
  for (let i = 1; i < n; i++) {
    const step = time[i]! - time[i - 1]!;
    const area = 0.5 * (values[i]! + values[i - 1]!) * step;
    if (step <= maxStep && !Number.isNaN(area)) total += area;
  }
  return total;
}
