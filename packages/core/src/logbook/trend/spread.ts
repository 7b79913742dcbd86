import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import { basisOf, takeOff } from './basis.js';
import { type Spread, whitened, whitener } from './whiten.js';

/** Fits, the later ones with the weights of the one before, and scatters up to which a residual counts in full (Huber 1964 gives 1.345; here milder). */
const ROUNDS = 2;
const HUBER = 1.5;
/** Scatters by which a look may leave its neighbours before it counts less. */
const STRAY = 3;
/** Looks on either side that a look is held against. */
const NEIGHBOURS = 2;
/** The longest pause, in ordinary intervals, over which anything is remembered. */
const LONGEST = 6;

/**
 * How much each look counts. Its variance is that of the drive's own standard error plus what drives differ by (R. C.
 * Paule & J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377), and more where it strays from the looks around it: a
 * drift or a step takes its neighbours along, a bad drive does not (after F. R. Hampel's identifier, 1974). No NaN in `y`;
 * a standard error that is NaN counts as the middle one of the others.
 * @param columns nuisance and the oldest drift, which the scatter is measured about
 */
export function spreadOf(
  y: Float64Array,
  errors: Float64Array,
  days: Float64Array,
  columns: readonly Float64Array[],
): Spread {
  const steps = stepsOf(days);
  const { rest, degrees } = robustRest(y, columns, steps);
  const stray = strayOf(rest);
  const middle = median(errors);
  if (Number.isNaN(middle) || !(middle > 0) || degrees < 2) return { variance: stray, steps };
  const own = errors.map((each) => (Number.isFinite(each) ? each * each : middle * middle));
  const between = betweenVariance(rest, own, stray, degrees, (middle * middle) / 4);
  let mean = 0;
  for (const each of own) mean += (each + between) / own.length;
  return { variance: own.map((each, i) => (stray[i]! * (each + between)) / mean), steps };
}

function stepsOf(days: Float64Array): Float64Array {
  const gaps = new Float64Array(Math.max(0, days.length - 1));
  for (let i = 0; i < gaps.length; i++) gaps[i] = days[i + 1]! - days[i]!;
  const usual = median(gaps);
  return Float64Array.from(days, (_, i) =>
    i === 0 || !(usual > 0) ? 1 : Math.min(LONGEST, Math.max(1, gaps[i - 1]! / usual)),
  );
}

/** Residuals of a fit by Huber's weights, iterated (P. J. Huber, Annals of Mathematical Statistics 35 (1964) 73). */
function robustRest(
  y: Float64Array,
  columns: readonly Float64Array[],
  steps: Float64Array,
): { rest: Float64Array; degrees: number } {
  let variance = new Float64Array(y.length).fill(1);
  let rest = y;
  let degrees = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const w = whitener({ variance, steps }, 0);
    const basis = basisOf(columns.map((column) => whitened(w, column)));
    const white = whitened(w, y);
    takeOff(white, basis.columns);
    rest = white.map((x, i) => x / w.own[i]!);
    degrees = y.length - basis.columns.length;
    const scatter = madn(rest);
    if (!(scatter > 0)) break;
    variance = rest.map((x) => Math.max(1, Math.abs(x) / (HUBER * scatter)));
  }
  return { rest, degrees };
}

/** Factor on the variance of each look, 1 and more. */
function strayOf(rest: Float64Array): Float64Array {
  const n = rest.length;
  const away = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const around: number[] = [];
    for (let j = Math.max(0, i - NEIGHBOURS); j <= Math.min(n - 1, i + NEIGHBOURS); j++)
      if (j !== i) around.push(rest[j]!);
    around.sort((a, b) => a - b);
    const upper = around.length >> 1;
    const lower = (around.length - 1) >> 1;
    away[i] = around.length === 0 ? 0 : rest[i]! - (around[lower]! + around[upper]!) / 2;
  }
  const scatter = madn(away);
  return away.map((x) => (scatter > 0 ? Math.max(1, (x / (STRAY * scatter)) ** 2) : 1));
}

/** Variance between drives at which the weighted squares are what their degrees of freedom are; not below `least`. */
function betweenVariance(
  rest: Float64Array,
  own: Float64Array,
  stray: Float64Array,
  degrees: number,
  least: number,
): number {
  const excess = (between: number): number => {
    let sum = 0;
    for (let i = 0; i < rest.length; i++) sum += rest[i]! ** 2 / (stray[i]! * (own[i]! + between));
    return sum - degrees;
  };
  if (excess(least) <= 0) return least;
  let low = least;
  let high = 2 * least;
  while (excess(high) > 0) {
    low = high;
    high *= 2;
  }
  for (let k = 0; k < 20; k++) {
    const middle = (low + high) / 2;
    if (excess(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
