import { leastSquares } from '../../math/least-squares.js';
import type { Covariates } from '../entry.js';
import { basisOf, dot, takeOff } from './basis.js';
import { YEAR } from './calendar.js';

/** What moves a measure besides wear, as columns of mean 0 and deviation 1. */
export interface Weather {
  readonly names: readonly (keyof Covariates | 'season')[];
  readonly columns: readonly Float64Array[];
  /** The columns among them that follow the year. */
  readonly seasonal: readonly Float64Array[];
  /** Covariates that move the measure, and that too few drives told. */
  readonly unknown: readonly (keyof Covariates)[];
}

/** Share of the looks that has to tell a covariate. */
const KNOWN = 2 / 3;

/**
 * Columns for the joint fit. A covariate that most looks know is filled up where it is missing: ambient temperature from
 * its own yearly wave, others with their mean. Where the ambient temperature is not known, the season stands in for it.
 */
export function weatherOf(
  movedBy: readonly (keyof Covariates)[],
  covariates: readonly Readonly<Record<keyof Covariates, number>>[],
  days: Float64Array,
): Weather {
  const names: (keyof Covariates | 'season')[] = [];
  const columns: Float64Array[] = [];
  const seasonal: Float64Array[] = [];
  const unknown: (keyof Covariates)[] = [];
  for (const name of [...new Set(movedBy)].sort()) {
    const raw = Float64Array.from(covariates, (each) => each[name]);
    const known = raw.filter(Number.isFinite).length;
    const ambient = name === 'ambientTemperature';
    if (known >= KNOWN * raw.length) {
      const column = standardised(ambient ? filledByYear(raw, days) : raw);
      if (column === undefined) continue;
      names.push(name);
      columns.push(column);
      if (ambient) seasonal.push(column);
      continue;
    }
    unknown.push(name);
    if (!ambient) continue;
    for (const wave of [Math.sin, Math.cos]) {
      const column = standardised(days.map((day) => wave((2 * Math.PI * day) / YEAR)));
      if (column === undefined) continue;
      names.push('season');
      columns.push(column);
      seasonal.push(column);
    }
  }
  return { names, columns, seasonal, unknown };
}

/** NaN becomes the mean; undefined where nothing varies. */
function standardised(raw: Float64Array): Float64Array | undefined {
  let sum = 0;
  let count = 0;
  for (const x of raw) {
    if (!Number.isFinite(x)) continue;
    sum += x;
    count++;
  }
  const mean = sum / count;
  const column = raw.map((x) => (Number.isFinite(x) ? x - mean : 0));
  const deviation = Math.sqrt(dot(column, column) / Math.max(1, count - 1));
  if (!(deviation > 1e-9 * Math.abs(mean) && deviation > 0)) return undefined;
  return column.map((x) => x / deviation);
}

/** NaN becomes the value of a yearly wave through the others. */
function filledByYear(raw: Float64Array, days: Float64Array): Float64Array {
  const one = new Float64Array(raw.length).fill(1);
  const sine = days.map((day) => Math.sin((2 * Math.PI * day) / YEAR));
  const cosine = days.map((day) => Math.cos((2 * Math.PI * day) / YEAR));
  const fit = raw.every(Number.isFinite) ? undefined : leastSquares([one, sine, cosine], raw);
  if (fit === undefined || !(fit.rows >= 6)) return raw;
  const [a, b, c] = fit.coefficients;
  return raw.map((x, i) => (Number.isFinite(x) ? x : a! + b! * sine[i]! + c! * cosine[i]!));
}

/**
 * Tells the correlation of a column with the season (multiple, where it is a wave of two columns), baselines taken off
 * both; 0 without any season.
 */
export function seasonCorrelation(
  seasonal: readonly Float64Array[],
  baselines: readonly Float64Array[],
): (column: Float64Array) => number {
  const basis = basisOf(baselines).columns;
  const season = basisOf([...baselines, ...seasonal]).columns.slice(basis.length);
  return (column) => {
    if (season.length === 0) return 0;
    const own = column.slice();
    takeOff(own, basis);
    const length = dot(own, own);
    if (!(length > 0)) return 0;
    let explained = 0;
    for (const q of season) explained += dot(q, own) ** 2;
    return Math.sqrt(explained / length);
  };
}
