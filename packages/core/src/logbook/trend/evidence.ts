import { normalProbability, normalScore } from '../../math/normal-probability.js';
import { basisOf, dot, takeOff } from './basis.js';
import type { Shape } from './shape.js';
import { type Spread, type Whitener, whitened, whitener } from './whiten.js';

/** Values of one measure up to a look, and what may explain them besides a change. */
export interface Problem {
  readonly y: Float64Array;
  /** Baselines, slopes of former baselines, weather. */
  readonly nuisance: readonly Float64Array[];
  readonly shapes: readonly Shape[];
  readonly spread: Spread;
}

/** Autocorrelations of neighbouring looks that are weighed, and how likely each is before any data. */
export const MEMORIES: readonly { readonly rho: number; readonly prior: number }[] = [
  { rho: 0, prior: 0.3 },
  { rho: 0.15, prior: 0.25 },
  { rho: 0.3, prior: 0.25 },
  { rho: 0.45, prior: 0.15 },
  { rho: 0.6, prior: 0.05 },
];

/** What the values leave beside the nuisance, at one autocorrelation. */
export interface Prepared {
  readonly rho: number;
  readonly whitener: Whitener;
  readonly basis: readonly Float64Array[];
  readonly rest: Float64Array;
  readonly degrees: number;
  readonly squares: number;
  /** Room for a column. */
  readonly scratch: Float64Array;
  /** ln of the likelihood without a change, but for a constant; nuisance and scatter integrated out with flat priors. */
  readonly log: number;
}

/** Undefined with less than two degrees of freedom, or where nothing scatters. */
export function prepare({ y, nuisance, spread }: Problem, rho: number): Prepared | undefined {
  const w = whitener(spread, rho);
  const basis = basisOf(nuisance.map((column) => whitened(w, column)));
  const degrees = y.length - basis.columns.length;
  if (degrees < 2) return undefined;
  const rest = whitened(w, y);
  const before = dot(rest, rest);
  takeOff(rest, basis.columns);
  const squares = dot(rest, rest);
  if (!(squares > 1e-18 * before)) return undefined;
  const log = -0.5 * (w.logDeterminant + basis.logDeterminant) - 0.5 * degrees * Math.log(squares);
  return { rho, whitener: w, basis: basis.columns, rest, degrees, squares, log, scratch: new Float64Array(y.length) };
}

/** ln of how much likelier the values are with the shape than without: upwards, and downwards. */
export interface ShapeFactor {
  readonly higher: number;
  readonly lower: number;
}

/**
 * Bayes factor of one shape in a linear model with flat priors on everything else: its size has a half-normal prior of
 * standard deviation `shape.scale` scatters. Liang, Paulo, Molina, Clyde & Berger, Journal of the American Statistical
 * Association 103 (2008) 410 (fixed g, one coefficient; from memory).
 */
export function shapeFactor(
  { whitener: w, basis, rest, degrees, squares, scratch }: Prepared,
  shape: Shape,
): ShapeFactor {
  const column = whitened(w, shape.column, scratch);
  // What the nuisance leaves of the column is not needed itself: `rest` stands upright on the nuisance.
  let size = dot(column, column);
  for (const q of basis) size -= dot(q, column) ** 2;
  size = Math.max(0, size);
  const g = shape.scale * shape.scale;
  const precision = size + 1 / g;
  const location = dot(column, rest) / precision;
  const left = squares - location * location * precision;
  const z = normalScore(location / Math.sqrt(left / degrees / precision), degrees);
  const both = Math.LN2 - 0.5 * Math.log(1 + g * size) + 0.5 * degrees * Math.log(squares / left);
  return { higher: both + Math.log(normalProbability(z)), lower: both + Math.log(normalProbability(-z)) };
}

/** A shape at one autocorrelation, and its share of the belief in a change. */
export interface Term {
  readonly shape: Shape;
  readonly rho: number;
  readonly weight: number;
}

export interface Evidence {
  /** ln of the Bayes factor of any shape in the direction over none. */
  readonly logBayes: number;
  readonly terms: readonly Term[];
}

/**
 * Both directions, shapes and autocorrelations averaged by their priors. As looks are added, such a factor is a
 * martingale while nothing changes, so its greatest value is bounded in probability: J. Ville, Étude critique de la
 * notion de collectif (1939) (from memory); the alarm level comes from simulation all the same.
 * @param memories prior of each prepared autocorrelation
 */
export function weigh(
  prepared: readonly Prepared[],
  memories: readonly number[],
  shapes: readonly Shape[],
): { higher: Evidence; lower: Evidence } {
  const none = logSum(prepared.map(({ log }, k) => log + Math.log(memories[k]!)));
  const terms: { shape: Shape; rho: number; higher: number; lower: number }[] = [];
  prepared.forEach((each, k) => {
    if (!(memories[k]! > 0)) return;
    for (const shape of shapes) {
      const factor = shapeFactor(each, shape);
      const base = each.log + Math.log(memories[k]! * shape.prior);
      terms.push({ shape, rho: each.rho, higher: base + factor.higher, lower: base + factor.lower });
    }
  });
  const side = (direction: 'higher' | 'lower'): Evidence => {
    const total = logSum(terms.map((term) => term[direction]));
    return {
      logBayes: total - none,
      terms: terms.map((term) => ({ shape: term.shape, rho: term.rho, weight: Math.exp(term[direction] - total) })),
    };
  };
  return { higher: side('higher'), lower: side('lower') };
}

/** Empty gives minus infinity. */
export function logSum(logs: readonly number[]): number {
  let largest = Number.NEGATIVE_INFINITY;
  for (const log of logs) largest = Math.max(largest, log);
  if (largest === Number.NEGATIVE_INFINITY) return largest;
  let sum = 0;
  for (const log of logs) sum += Math.exp(log - largest);
  return largest + Math.log(sum);
}
