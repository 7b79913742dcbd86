import type { Rule } from '../rules/rule.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { Course, CourseState, DateRange, Range } from './car-report.js';
import type { LogbookEntry, LogbookNote } from './entry.js';
import { trackedMeasure } from './tracked.js';
import { type CarTrend, type MeasureTrend, type TrendState, trendsOf } from './trend/index.js';
import { number, signOf } from './wording.js';

const STATES: Readonly<Record<TrendState, CourseState>> = {
  drifting: 'drifting',
  changed: 'changed',
  steady: 'steady',
  'not separable': 'weather-or-wear',
  'too few drives': 'too-few-drives',
};

/**
 * How each followed measure of a car went, as reports tell it: the trend in words, with its values, band and forecast.
 * @param rules all rules, for their limits
 */
export function carCourses(
  entries: readonly LogbookEntry[],
  notes: readonly LogbookNote[],
  rules: readonly Rule[],
  vehicle?: Vehicle,
): Course[] {
  const ids = new Set(entries.flatMap(({ measures }) => measures.map(({ id }) => id)));
  const measures = [...ids].sort().flatMap((id) => trackedMeasure(id, rules, vehicle) ?? []);
  const trend = trendsOf(entries, notes, { measures });
  return trend.measures.map((each) => courseOf(each, trend, entries));
}

/** Drives that have to agree to the last digit before that says anything. */
const STILL = 5;

function courseOf(trend: MeasureTrend, car: CarTrend, entries: readonly LogbookEntry[]): Course {
  const { measure, state, forecast, change } = trend;
  const points = entries.flatMap(({ recordedAt, distance, measures }) =>
    measures
      .filter(({ id, unit }) => id === measure.id && unit === measure.unit)
      .map(({ value, standardError }) => ({ at: recordedAt, distance, value, standardError })),
  );
  // What was the same in every drive has no scatter to be judged by, and needs none.
  const still = points.length >= STILL && points.every(({ value }) => value === points[0]!.value);
  const current = trend.alarms.filter((alarm) => alarm.current);
  const slope = slopeOf(trend);
  const moves = !still && (state === 'drifting' || state === 'changed');
  return {
    id: measure.id,
    name: measure.name,
    unit: measure.unit,
    worse: measure.worse,
    limit: measure.limit,
    state: still ? 'steady' : STATES[state],
    says: still ? `The same in all ${points.length} drives.` : wordsOf(trend),
    drives: trend.drives,
    drivesNeeded: still ? 0 : (trend.needed?.looks ?? 0),
    slope,
    forecast:
      forecast === null || !moves
        ? null
        : { date: datesOf(forecast), distance: car.axis.kind === 'distance' ? distancesOf(forecast) : null },
    alarm: current[0]?.date ?? null,
    changes: change?.kind === 'step' ? [change.onset.date] : [],
    baselines: trend.baselines.flatMap(({ because }) =>
      because === null ? [] : [{ date: because.date, kind: because.kind }],
    ),
    points,
    band: trend.points.flatMap(({ date, fitted }) =>
      fitted === null || !Number.isFinite(fitted.low) || !Number.isFinite(fitted.high)
        ? []
        : [{ at: date, low: fitted.low, value: fitted.value, high: fitted.high }],
    ),
    ahead: !moves
      ? []
      : trend.ahead.flatMap(({ date, level: { low, value, high } }) =>
          [low, value, high].every(Number.isFinite) ? [{ at: date, low, value, high }] : [],
        ),
  };
}

/** By use where the car's use is known, else a year. */
function slopeOf({ slope }: MeasureTrend): Course['slope'] {
  if (slope === null) return null;
  const { perYear, perUse } = slope;
  return perUse?.of === '10000 km' ? { ...bounded(perUse), per: '10000 km' } : { ...bounded(perYear), per: 'year' };
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

function bounded({ low, value, high }: { low: number; value: number; high: number }): Range {
  return { low: finite(low), value: finite(value), high: finite(high) };
}

type Told = NonNullable<MeasureTrend['forecast']>;

function datesOf({ crossing }: Told): DateRange {
  return {
    low: crossing?.earliest.date ?? null,
    value: crossing?.middle?.date ?? null,
    high: crossing?.latest?.date ?? null,
  };
}

function distancesOf({ crossing }: Told): Range {
  return {
    low: crossing?.earliest.axis ?? null,
    value: crossing?.middle?.axis ?? null,
    high: crossing?.latest?.axis ?? null,
  };
}

const REASONS: Readonly<Record<NonNullable<MeasureTrend['reason']>, string>> = {
  'too few drives': 'Too few drives to tell drift from chance',
  'less than a year': 'Weather and wear are not separable yet: the drives span less than a year',
  'drift follows the season': 'Weather and wear are not separable yet: the drift follows the season',
};

/** One sentence for people. */
function wordsOf({ measure, reason, needed, change, forecast, slope, detectable, baselines }: MeasureTrend): string {
  const { unit, limit } = measure;
  if (reason !== null) {
    const more = needed?.looks ?? null;
    const until = needed?.until ?? null;
    const ask =
      more === null ? '' : `; ${more === 1 ? 'one more drive, a month on,' : `${more} more monthly drives`} at least`;
    return `${REASONS[reason]}${ask}${until === null ? '' : `, not before ${until.slice(0, 7)}`}.`;
  }
  const fresh = baselines[baselines.length - 1]?.because ?? null;
  const since = fresh === null ? '' : ` since ${fresh.date.slice(0, 10)}`;
  if (change !== null) {
    const { size, kind, direction, onset, through } = change;
    const rises = direction === 'higher' ? 'rises' : 'falls';
    const stepped = direction === 'higher' ? 'rose' : 'fell';
    const range = `${number(Math.abs(size.value))} (${sortedRange(size.low, size.high)}) ${signOf(unit)}`.trim();
    const what =
      kind === 'drift'
        ? `It ${rises} by ${range} a year, since about ${onset.date.slice(0, 7)} (${onset.earliest.slice(0, 7)} to ${onset.latest.slice(0, 7)})`
        : `It ${stepped} by ${range} at once, about ${onset.date.slice(0, 7)} (${onset.earliest.slice(0, 7)} to ${onset.latest.slice(0, 7)})`;
    const work = through ? ', and work on the car did not stop it' : '';
    const beyond = forecast !== null && forecast.beyond >= 0.5 ? '; its level is beyond the limit already' : '';
    return `${what}${work}${beyond}.`;
  }
  const seen =
    detectable === null ? '' : `; a drift of ${number(detectable)} ${signOf(unit)} a year would be seen by now`;
  const near =
    forecast !== null && limit !== null && forecast.beyond >= 0.5
      ? '; its level is beyond the limit, and stays there'
      : '';
  return `No drift beyond what weather, load and chance explain${since}${slope === null ? '' : seen}${near}.`;
}

function sortedRange(low: number, high: number): string {
  const [a, b] = [Math.abs(low), Math.abs(high)].sort((x, y) => x - y) as [number, number];
  // An interval that reaches over 0 keeps its sign.
  return low < 0 && high > 0 ? `${number(low)} to ${number(high)}` : `${number(a)} to ${number(b)}`;
}
