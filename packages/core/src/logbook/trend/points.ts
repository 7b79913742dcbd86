import { studentQuantile } from '../../math/student.js';
import { dateOf } from './calendar.js';
import type { CarFacts } from './car-facts.js';
import type { Baseline, TrendPoint } from './car-trend.js';
import type { Line } from './lines.js';
import type { Moment } from './moment.js';
import { restartsOf } from './series.js';

/** Values in mean weather: what the line says of the weather is taken off. Without a line as they are. */
export function adjustedValues({ problem, weather, baselines }: Moment, line: Line | undefined): Float64Array {
  const values = problem.y.slice();
  if (line === undefined) return values;
  const first = problem.nuisance.length - weather.columns.length;
  weather.columns.forEach((column, k) => {
    const effect = line.coefficients[first + k] ?? 0;
    for (let i = 0; i < values.length; i++) values[i]! -= effect * column[i]!;
  });
  return baselines.length > 0 ? values : problem.y.slice();
}

export function pointsOf(
  { series, first, start, years, problem }: Moment,
  { looks, axis }: CarFacts,
  line: Line | undefined,
  adjusted: Float64Array,
): TrendPoint[] {
  const least = Math.min(...problem.spread.variance);
  const reach = line === undefined || line.degrees < 1 ? Number.NaN : studentQuantile(0.975, line.degrees);
  return Array.from(adjusted, (value, i) => {
    const place = first + i;
    const look = series.looks[place]!;
    const error = series.errors[place]!;
    // Former baselines have their own level; the band is that of the present one.
    const level = line === undefined || i < start ? undefined : line.level(years[i]!);
    return {
      look,
      date: dateOf(looks[look]!.last),
      axis: axis.kind === 'time' ? null : axis.values[look]!,
      value: problem.y[i]!,
      standardError: Number.isFinite(error) ? error : null,
      adjusted: value,
      weight: least / problem.spread.variance[i]!,
      baseline: series.baselines[place]!,
      fitted:
        level === undefined
          ? null
          : { value: level.value, low: level.value - reach * level.error, high: level.value + reach * level.error },
    };
  });
}

/** Baselines of the looks in view, with the notes that started them. */
export function baselinesOf(
  { series, first, end }: Moment,
  { looks, notes }: CarFacts,
  adjusted: Float64Array,
): Baseline[] {
  const restarts = restartsOf(notes, series.measure.rebaselinedBy);
  const found: Baseline[] = [];
  for (let place = first; place < end; ) {
    const own = series.baselines[place]!;
    let next = place;
    let sum = 0;
    for (; next < end && series.baselines[next] === own; next++) sum += adjusted[next - first]!;
    const look = looks[series.looks[place]!]!;
    const before = place === 0 ? 0 : looks[series.looks[place - 1]!]!.notes;
    const cause = own === 0 ? undefined : restarts.filter((at) => at >= before && at < look.notes).at(-1);
    const level = sum / (next - place);
    const { kind, date, text } = cause === undefined ? { kind: null, date: '', text: '' } : notes[cause]!.note;
    found.push({
      from: dateOf(look.day),
      looks: next - place,
      because: kind === null ? null : { kind, date, text },
      level,
      jump: found.length === 0 ? null : level - found.at(-1)!.level,
    });
    place = next;
  }
  return found;
}
