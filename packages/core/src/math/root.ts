/**
 * Root of a function between two points at which its signs differ, to within `tolerance`; NaN in the function gives NaN.
 * Inverse quadratic interpolation and secants, guarded by bisection: R. P. Brent, Algorithms for Minimization without
 * Derivatives (1973), chapter 4 (from memory). A leap is found like a root.
 * @throws RangeError where the signs do not differ
 */
export function rootBetween(of: (x: number) => number, from: number, to: number, tolerance: number): number {
  let [a, b] = [from, to];
  let [fa, fb] = [of(a), of(b)];
  if (fa > 0 === fb > 0 && fa !== 0 && fb !== 0)
    throw new RangeError(`rootBetween: the signs at ${from} and ${to} do not differ`);
  let [c, fc] = [a, fa];
  let last = b - a;
  let before = last;
  for (let n = 0; n < 500; n++) {
    if (fb > 0 === fc > 0) {
      [c, fc] = [a, fa];
      last = b - a;
      before = last;
    }
    if (Math.abs(fc) < Math.abs(fb)) {
      [a, b, c] = [b, c, b];
      [fa, fb, fc] = [fb, fc, fb];
    }
    const least = 2 * Number.EPSILON * Math.abs(b) + tolerance / 2;
    const half = (c - b) / 2;
    if (Math.abs(half) <= least || fb === 0) return b;
    if (Math.abs(before) < least || Math.abs(fa) <= Math.abs(fb)) {
      last = half;
      before = half;
    } else {
      const s = fb / fa;
      const secant = a === c;
      const [q0, r] = [fa / fc, fb / fc];
      let p = secant ? 2 * half * s : s * (2 * half * q0 * (q0 - r) - (b - a) * (r - 1));
      let q = secant ? 1 - s : (q0 - 1) * (r - 1) * (s - 1);
      if (p > 0) q = -q;
      else p = -p;
      if (2 * p < Math.min(3 * half * q - Math.abs(least * q), Math.abs(before * q))) {
        before = last;
        last = p / q;
      } else {
        last = half;
        before = half;
      }
    }
    [a, fa] = [b, fb];
    b += Math.abs(last) > least ? last : Math.sign(half) * least;
    fb = of(b);
    if (Number.isNaN(fb)) return Number.NaN;
  }
  return b;
}
