import { cusum, ewma } from '../../math/control-charts.js';
import { leastSquares, leverage } from '../../math/least-squares.js';
import { normalScore } from '../../math/normal-probability.js';
import { chartLimits } from './alarm-level.js';
import { basisOf } from './basis.js';
import type { Moment } from './moment.js';

/** Control charts of what each look tells beyond the looks before it, upwards positive, in standard scores. */
export interface Charts {
  /** Standard score of each look against the forecast from those before it; null where there were too few. */
  readonly scores: readonly (number | null)[];
  readonly ewma: readonly ({ readonly value: number; readonly low: number; readonly high: number } | null)[];
  readonly cusum: readonly ({ readonly above: number; readonly below: number } | null)[];
  /** Decision interval of the sums. */
  readonly decision: number;
  /** Looks (by place in the points) at which a chart is beyond its limits. */
  readonly signals: readonly {
    readonly at: number;
    readonly chart: 'ewma' | 'cusum';
    readonly direction: 'higher' | 'lower';
  }[];
}

/** Weight of the newest look, and slack of the sums: half of a shift by one scatter (NIST e-Handbook 6.3.2.3, 6.3.2.4). */
export const WEIGHT = 0.3;
export const ALLOWANCE = 0.5;

/**
 * Recursive residuals (R. L. Brown, J. Durbin & J. M. Evans, J. R. Statist. Soc. B 37 (1975) 149, from memory): each look
 * less its forecast from baselines and weather as they were known before, over the error of that forecast. Without change
 * they are independent standard scores, so the charts need no learning phase. Limits hold over 36 looks of all tests
 * at 5 % and are widened by the autocorrelation. A chart that signals towards worse is shown; the alarm is
 * the sequence's.
 */
export function chartsOf(
  { problem, baselines, weather }: Moment,
  rho: number,
  tests: number,
  directions: readonly ('higher' | 'lower')[],
): Charts {
  const scores = recursiveScores(problem.y, [...baselines, ...weather.columns], problem.spread.variance);
  const known = scores.flatMap((score, at) => (score === null ? [] : [{ score, at }]));
  const { width, decision: plain } = chartLimits(tests);
  const decision = plain * Math.sqrt((1 + rho) / (1 - rho));
  const values = known.map(({ score }) => score);
  const averages = ewma(values, { target: 0, sigma: 1, weight: WEIGHT, width, rho });
  const sums = cusum(values, 0, ALLOWANCE);
  const back = new Map(known.map(({ at }, k) => [at, k]));
  const signals: { at: number; chart: 'ewma' | 'cusum'; direction: 'higher' | 'lower' }[] = [];
  known.forEach(({ at }, k) => {
    const { value, low, high } = averages[k]!;
    const { above, below } = sums[k]!;
    for (const direction of directions) {
      if (direction === 'higher' ? value > high : value < low) signals.push({ at, chart: 'ewma', direction });
      if ((direction === 'higher' ? above : below) > decision) signals.push({ at, chart: 'cusum', direction });
    }
  });
  const spread = <T>(list: readonly T[]): (T | null)[] =>
    scores.map((_, at) => (back.has(at) ? list[back.get(at)!]! : null));
  return {
    scores,
    ewma: spread(averages),
    cusum: spread(sums.map(({ above, below }) => ({ above, below }))),
    decision,
    signals,
  };
}

function recursiveScores(y: Float64Array, columns: readonly Float64Array[], variance: Float64Array): (number | null)[] {
  const weights = variance.map((v) => 1 / v);
  return Array.from(y, (value, i) => {
    const before = columns.map((column) => column.slice(0, i));
    const places = basisOf(before).places;
    if (i < places.length + 2) return null;
    // A look of a new baseline, or of weather never seen, has no forecast.
    if (columns.some((column, at) => !places.includes(at) && column[i] !== 0)) return null;
    const fit = leastSquares(
      places.map((at) => before[at]!),
      y.slice(0, i),
      weights.slice(0, i),
    );
    if (fit === undefined || !(fit.variance > 0)) return null;
    const row = places.map((at) => columns[at]![i]!);
    const forecast = row.reduce((sum, x, a) => sum + x * fit.coefficients[a]!, 0);
    const error = Math.sqrt(fit.variance * (variance[i]! + leverage(fit, row)));
    return normalScore((value - forecast) / error, i - places.length);
  });
}
