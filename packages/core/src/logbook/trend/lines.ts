import { type LeastSquares, leastSquares } from '../../math/least-squares.js';
import type { StudentPart } from '../../math/student-mixture.js';
import { basisOf } from './basis.js';
import type { Prepared } from './evidence.js';
import type { Moment } from './moment.js';
import type { Shape } from './shape.js';
import { whitened } from './whiten.js';

/** A fitted shape at one autocorrelation, with its share of the belief. */
export interface Line {
  /** Undefined: no change. */
  readonly shape: Shape | undefined;
  readonly rho: number;
  readonly weight: number;
  readonly degrees: number;
  /** Size of the shape (a year for a drift) and its standard error; NaN without one. */
  readonly size: number;
  readonly sizeError: number;
  /** Level at a time in years' worth, in mean weather, in the present baseline. */
  readonly level: (years: number) => { readonly value: number; readonly error: number };
  /** Coefficients of the nuisance of the moment, in its order; 0 for columns that depend on others. */
  readonly coefficients: Float64Array;
}

/** Generalised least squares of one shape beside the nuisance; undefined where it cannot be told from it. */
export function lineOf(
  { problem, years, start, baselines }: Moment,
  { whitener, rho }: Prepared,
  shape: Shape | undefined,
  weight: number,
): Line | undefined {
  const columns = shape === undefined ? problem.nuisance : [...problem.nuisance, shape.column];
  const white = columns.map((column) => whitened(whitener, column));
  const places = basisOf(white).places;
  if (shape !== undefined && places.at(-1) !== columns.length - 1) return undefined;
  const fit = leastSquares(
    places.map((at) => white[at]!),
    whitened(whitener, problem.y),
  );
  if (fit === undefined || !(fit.variance >= 0)) return undefined;
  const of = (column: number): number => places.indexOf(column);
  const present = of(baselines.findIndex((column) => column[start] === 1));
  const changed = shape === undefined ? -1 : of(columns.length - 1);
  const coefficients = new Float64Array(problem.nuisance.length);
  for (const [at, column] of places.entries())
    if (column < coefficients.length) coefficients[column] = fit.coefficients[at]!;
  return {
    shape,
    rho,
    weight,
    degrees: fit.rows - places.length,
    size: changed < 0 ? Number.NaN : fit.coefficients[changed]!,
    sizeError: changed < 0 ? Number.NaN : Math.sqrt(covariance(fit, changed, changed)),
    level: (at) => {
      const row: [number, number][] = [];
      if (present >= 0) row.push([present, 1]);
      if (shape !== undefined) {
        // Before its onset a change has not begun.
        const since = at - years[shape.onset]!;
        row.push([changed, shape.kind === 'step' ? Number(since >= 0) : Math.max(0, since)]);
      }
      let value = 0;
      let variance = 0;
      for (const [a, x] of row) {
        value += x * fit.coefficients[a]!;
        for (const [b, z] of row) variance += x * z * covariance(fit, a, b);
      }
      return { value, error: Math.sqrt(Math.max(0, variance)) };
    },
    coefficients,
  };
}

function covariance({ inverse, variance, coefficients }: LeastSquares, a: number, b: number): number {
  return variance * inverse[a * coefficients.length + b]!;
}

/** Sizes as a mixture, in the direction of `sign`. */
export function sizesOf(lines: readonly Line[], sign: 1 | -1 = 1): StudentPart[] {
  return normalised(
    lines.map(({ weight, size, sizeError, degrees }) => ({
      weight,
      location: sign * size,
      scale: sizeError,
      degrees,
    })),
  );
}

/** Levels at a time as a mixture, in the direction of `sign`. */
export function levelsOf(lines: readonly Line[], years: number, sign: 1 | -1 = 1): StudentPart[] {
  return normalised(
    lines.map(({ weight, level, degrees }) => {
      const { value, error } = level(years);
      return { weight, location: sign * value, scale: error, degrees };
    }),
  );
}

function normalised(parts: readonly StudentPart[]): StudentPart[] {
  const total = parts.reduce((sum, { weight }) => sum + weight, 0);
  return parts.map((part) => ({ ...part, weight: part.weight / total }));
}
