import type { Course, CourseState } from '../car-report.js';
import type { CarTrend, Estimate, MeasureTrend, TrendState } from './car-trend.js';

const STATES: Readonly<Record<TrendState, CourseState>> = {
  drifting: 'drifting',
  changed: 'changed',
  steady: 'steady',
  'not separable': 'weather-or-wear',
  'too few drives': 'too-few-drives',
};

/** The trends of a car as its report shows them, the worst first. */
export function trendCourses(trend: CarTrend): Course[] {
  return trend.measures.map((measure) => courseOf(measure, trend));
}

function courseOf(trend: MeasureTrend, { looks, axis }: CarTrend): Course {
  const { measure, state, baselines, alarms, change, points } = trend;
  const distance = axis.kind === 'distance';
  const alarm = alarms.find(({ current, stands }) => current && stands);
  return {
    id: measure.id,
    name: measure.name,
    unit: measure.unit,
    worse: measure.worse,
    limit: measure.limit,
    state: STATES[state],
    says: says(trend),
    drives: baselines.at(-1)?.looks ?? 0,
    drivesNeeded: trend.needed?.looks ?? 0,
    slope: slopeOf(trend),
    forecast: forecastOf(trend, distance),
    alarm: alarm === undefined ? null : looks[alarm.look]!.lastDrive,
    changes: change?.kind === 'step' ? [change.onset.date] : [],
    baselines: baselines.flatMap(({ because }) =>
      because === null ? [] : [{ date: because.date, kind: because.kind }],
    ),
    points: points.map(({ date, axis: at, value, standardError }) => ({
      at: date,
      distance: distance ? at : null,
      value,
      standardError,
    })),
    band: points.flatMap(({ date, fitted }) => (fitted === null ? [] : [{ at: date, ...fitted }])),
  };
}

function slopeOf({ slope }: MeasureTrend): Course['slope'] {
  if (slope === null) return null;
  const { perYear, perUse } = slope;
  const { value, low, high } = perUse?.of === '10000 km' ? perUse : perYear;
  return { low, value, high, per: perUse?.of === '10000 km' ? '10000 km' : 'year' };
}

function forecastOf({ forecast }: MeasureTrend, distance: boolean): Course['forecast'] {
  const crossing = forecast?.crossing ?? null;
  if (crossing === null) return null;
  const { earliest, middle, latest } = crossing;
  return {
    date: { low: earliest.date, value: middle?.date ?? null, high: latest?.date ?? null },
    distance: distance ? { low: earliest.axis, value: middle?.axis ?? null, high: latest?.axis ?? null } : null,
  };
}

/** One sentence or two for people. */
function says(trend: MeasureTrend): string {
  const { measure, change, needed, reason, alarms, detectable } = trend;
  if (reason === 'too few drives') return `Too few drives: ${monthly(needed?.looks ?? null)} needed.`;
  if (reason === 'less than a year')
    return `Weather and wear not separable yet: less than a year on record, no answer before ${needed?.until ?? 'then'}.`;
  if (reason === 'drift follows the season')
    return `Weather and wear not separable yet: the drift runs with the season; ${monthly(needed?.looks ?? null)} needed.`;
  if (change !== null) {
    const { onset, size, direction, through, kind } = change;
    const between = `between ${onset.earliest} and ${onset.latest}`;
    return kind === 'step'
      ? `Stepped ${direction} about ${onset.date} (${between}), by ${sized(size, measure.unit)}.`
      : `Goes ${direction} since about ${onset.date} (${between}), by ${sized(size, measure.unit)} a year.${
          through ? ' Work that should have started it anew did not end it.' : ''
        }`;
  }
  const seen =
    detectable === null
      ? ''
      : ` A drift of ${short(detectable)}${unit(measure.unit)} a year would most likely show by now.`;
  const back = alarms.find(({ current }) => current);
  return `No change beyond weather and chance.${seen}${
    back === undefined ? '' : ` An alarm of ${back.date} was taken back by later drives.`
  }`;
}

function monthly(looks: number | null): string {
  if (looks === null) return 'more drives, spread over the year, are';
  return looks === 1 ? 'one more monthly drive is' : `${looks} more monthly drives are`;
}

/** The size without its sign, which the direction tells; the interval keeps what lies on the other side of 0. */
function sized({ value, low, high }: Estimate, of: string): string {
  const sign = value < 0 ? -1 : 1;
  const [a, b] = [sign * low, sign * high].sort((x, y) => x - y);
  return `${short(Math.abs(value))}${unit(of)} (${short(a!)} to ${short(b!)})`;
}

function unit(of: string): string {
  return of === '1' ? '' : ` ${of}`;
}

/** Three digits. */
function short(x: number): string {
  return String(Number(x.toPrecision(3)));
}
