import { axisOf } from './axis.js';
import type { Problem } from './evidence.js';
import type { Look } from './looks.js';
import type { Series } from './series.js';
import { type Shape, shapesOf } from './shape.js';
import { spreadOf } from './spread.js';
import { seasonCorrelation, type Weather, weatherOf } from './weather.js';

/** Days of a record before weather and wear can be told apart: a year, less the width of a look. */
export const YEAR_SEEN = 350;
/** Correlation with the season beyond which a shape cannot be told from it. */
export const INSEPARABLE = 0.7;
/** Looks that are held against each other at most: five years of monthly drives. */
const WINDOW = 60;

/** A measure as it stood after one of its looks: nothing that came later is in it. */
export interface Moment {
  readonly series: Series;
  /** Places in the series: from `first`, before `end`. */
  readonly first: number;
  readonly end: number;
  /** First look of the present baseline, counted from `first`. */
  readonly start: number;
  readonly days: Float64Array;
  /** Years of each look, or distance in years' worth of driving. */
  readonly years: Float64Array;
  readonly baselines: readonly Float64Array[];
  readonly weather: Weather;
  readonly problem: Problem;
  /** Shapes that the season cannot explain are in the problem; this is the correlation of the present drift. */
  readonly correlation: number;
  /** Why nothing is judged yet. */
  readonly withheld: 'too few drives' | 'less than a year' | 'drift follows the season' | undefined;
}

/** What the axis and the calendar say, up to one look of the car. */
export interface Clock {
  readonly looks: readonly Look[];
  /** Values on the axis in years' worth. */
  readonly years: Float64Array;
  readonly days: Float64Array;
  /** Shapes of measures that every look of a stretch has: the same for all of them. */
  readonly shapes: Map<string, readonly Shape[]>;
}

export function clockOf(looks: readonly Look[]): Clock {
  const axis = axisOf(looks);
  const unit = axis.perYear;
  return {
    looks,
    days: Float64Array.from(looks, ({ day }) => day),
    years: axis.values.map((x) => (x - axis.values[0]!) / unit),
    shapes: new Map(),
  };
}

/** True while the record of the measure is shorter than a year. */
export function tooShort({ looks }: Series, count: number, { days }: Clock): boolean {
  return days[looks[count - 1]!]! - days[looks[0]!]! < YEAR_SEEN;
}

/**
 * @param count looks of the series that are known by then
 * @param alarmed baselines in which an alarm fired: a former one of them keeps a slope of its own
 */
export function momentOf(series: Series, count: number, clock: Clock, alarmed: ReadonlySet<number>): Moment {
  const first = Math.max(0, count - WINDOW);
  const places = series.looks.slice(first, count);
  const days = Float64Array.from(places, (at) => clock.days[at]!);
  const years = Float64Array.from(places, (at) => clock.years[at]!);
  const of = series.baselines.slice(first, count);
  const present = of.at(-1)!;
  const start = of.indexOf(present);
  const distinct = [...new Set(of)];
  const baselines = distinct.map((each) => Float64Array.from(of, (b) => (b === each ? 1 : 0)));
  const slopes = distinct
    .filter((each) => each !== present && alarmed.has(each))
    .map((each) => {
      const from = years[of.indexOf(each)]!;
      return years.map((x, i) => (of[i] === each ? x - from : 0));
    });
  const weather = weatherOf(
    series.measure.movedBy,
    places.map((at) => clock.looks[at]!.covariates),
    days,
  );
  const correlationOf = seasonCorrelation(weather.seasonal, baselines);
  const all = sharedShapes(places, years, start, clock);
  const drift = all.find(({ kind, onset, through }) => kind === 'drift' && onset === start && !through);
  const shapes = believed(all.filter(({ column }) => correlationOf(column) <= INSEPARABLE));
  const nuisance = [...baselines, ...slopes, ...weather.columns];
  const oldest = all.filter(({ kind, onset }) => kind === 'drift' && onset <= start).map(({ column }) => column);
  const y = series.values.slice(first, count);
  const spread = spreadOf(y, series.errors.slice(first, count), days, [...nuisance, ...oldest]);
  const correlation = drift === undefined ? Number.NaN : correlationOf(drift.column);
  let withheld: Moment['withheld'];
  if (all.length === 0 || y.length < nuisance.length + 3) withheld = 'too few drives';
  else if (tooShort(series, count, clock)) withheld = 'less than a year';
  else if (!shapes.some(({ kind, onset }) => kind === 'drift' && onset <= start)) withheld = 'drift follows the season';
  return {
    series,
    first,
    end: count,
    start,
    days,
    years,
    baselines,
    weather,
    problem: { y, nuisance, shapes, spread },
    correlation,
    withheld,
  };
}

/** Shapes of a moment with every onset, those that follow the season left out. */
export function everyShape({ years, start, weather, baselines }: Moment): Shape[] {
  const correlationOf = seasonCorrelation(weather.seasonal, baselines);
  return believed(shapesOf(years, start, true).filter(({ column }) => correlationOf(column) <= INSEPARABLE));
}

function sharedShapes(
  places: readonly number[],
  years: Float64Array,
  start: number,
  { shapes }: Clock,
): readonly Shape[] {
  const [from, to] = [places[0]!, places.at(-1)!];
  if (to - from + 1 !== places.length) return shapesOf(years, start);
  const key = `${from} ${to} ${start}`;
  const found = shapes.get(key) ?? shapesOf(years, start);
  shapes.set(key, found);
  return found;
}

/** The same shapes, their belief adding up to 1 again. */
function believed(shapes: readonly Shape[]): Shape[] {
  const total = shapes.reduce((sum, { prior }) => sum + prior, 0);
  if (Math.abs(total - 1) < 1e-12) return [...shapes];
  return shapes.map((shape) => ({ ...shape, prior: shape.prior / total }));
}
