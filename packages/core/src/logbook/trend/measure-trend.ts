import { mannKendall, prewhitened } from '../../math/mann-kendall.js';
import { mixtureProbability, mixtureQuantile, type StudentPart } from '../../math/student-mixture.js';
import { theilSen } from '../../math/theil-sen.js';
import type { Axis } from './axis.js';
import { type Beliefs, beliefsOf, undecided } from './beliefs.js';
import { dateOf, YEAR } from './calendar.js';
import type { CarFacts } from './car-facts.js';
import type { Estimate, MeasureTrend, TrendState } from './car-trend.js';
import { changeOf } from './change.js';
import { chartsOf } from './charts.js';
import { forecastOf, HORIZON, type Pace } from './forecast.js';
import { type Line, levelsOf, sizesOf } from './lines.js';
import type { Moment } from './moment.js';
import { neededFor } from './needed.js';
import { adjustedValues, baselinesOf, pointsOf } from './points.js';
import { type Alarm, directionsOf, type Standing } from './sequence.js';
import { DRIFT_SCALE } from './shape.js';

/** Share of its level that the evidence of an alarm has to keep for the alarm to stand. */
const STANDS = 0.5;
/** How far ahead levels are drawn, in years, and in how many steps. */
const DRAWN = 2;
const STEPS = 4;

export function measureTrend(standing: Standing, facts: CarFacts): MeasureTrend {
  const { series, moment, evidence, alarms, level, tests } = standing;
  const { measure } = series;
  const { looks, axis } = facts;
  const directions = directionsOf(series);
  const baseline = series.baselines[moment.end - 1]!;
  const worst =
    evidence === undefined
      ? directions[0]!
      : directions.reduce((a, b) => (evidence[b].logBayes > evidence[a].logBayes ? b : a));
  const sign = worst === 'higher' ? 1 : -1;
  const judged = moment.withheld === undefined && evidence !== undefined;
  const stands = (alarm: Alarm): boolean =>
    judged && alarm.baseline === baseline && evidence[alarm.direction].logBayes > STANDS * alarm.level;
  const beliefs = beliefsOf(standing, worst);
  const { memories, none, changes, slopes } = beliefs;
  const change =
    judged && alarms.some((alarm) => alarm.direction === worst && stands(alarm))
      ? changeOf(moment, changes, worst)
      : null;
  const state: TrendState =
    moment.withheld === 'too few drives'
      ? 'too few drives'
      : moment.withheld !== undefined
        ? 'not separable'
        : change === null
          ? 'steady'
          : change.kind === 'drift'
            ? 'drifting'
            : 'changed';
  const perYear = slopes.length > 0 && judged ? estimateOf(sizesOf(slopes)) : undefined;
  const lines = change === null ? undecided(beliefs, evidence?.[worst].logBayes) : changes;
  const best = (change === null ? none : changes).reduce<Line | undefined>(
    (a, b) => (a === undefined || b.weight > a.weight ? b : a),
    undefined,
  );
  const pace = paceOf(moment, facts);
  const adjusted = adjustedValues(moment, best);
  const own = adjusted.slice(moment.start);
  const white = prewhitened(own);
  const { s, p, tau, exact } = mannKendall(white);
  const slope = theilSen(moment.years.slice(moment.start), own);
  const rho = memories.reduce((sum, { of, weight }) => sum + of.rho * weight, 0);
  const towardsWorse =
    slopes.length > 0 && judged
      ? directions.map((d) => probabilityAgainst(sizesOf(slopes, d === 'higher' ? 1 : -1)))
      : [];
  const limit =
    measure.limit === null
      ? undefined
      : measure.worse === 'either'
        ? sign * Math.abs(measure.limit.value)
        : measure.limit.value;
  return {
    measure,
    state,
    // Judged without evidence: values that never move beside their baselines hold no change.
    reason: moment.withheld ?? null,
    needed: neededFor(moment),
    drives: series.drives,
    looks: series.looks.length,
    baselines: baselinesOf(moment, facts, adjusted),
    weather: { fitted: [...new Set(moment.weather.names)], unknown: moment.weather.unknown },
    seasonCorrelation: Number.isNaN(moment.correlation) ? null : moment.correlation,
    evidence: judged ? evidence[worst].logBayes : null,
    alarms: alarms.map((alarm) => ({
      look: alarm.look,
      date: dateOf(looks[alarm.look]!.last),
      direction: alarm.direction,
      evidence: alarm.logBayes,
      level: alarm.level,
      current: alarm.baseline === baseline,
      stands: stands(alarm),
    })),
    change,
    slope: perYear === undefined ? null : { perYear, perUse: perUse(perYear, axis) },
    detectable: judged ? detectableDrift(beliefs, level) : null,
    theilSen: Number.isNaN(slope.slope) ? null : { value: slope.slope, low: bound(slope.low), high: bound(slope.high) },
    mannKendall: Number.isNaN(p) ? null : { s, p, tau, exact, prewhitened: white.length < own.length },
    forecast: !judged || limit === undefined || lines.length === 0 ? null : forecastOf(lines, limit, sign, pace),
    points: pointsOf(moment, facts, best, adjusted),
    ahead:
      !judged || lines.length === 0
        ? []
        : Array.from({ length: STEPS + 1 }, (_, k) => {
            const years = (Math.min(DRAWN, HORIZON) * k) / STEPS;
            return {
              date: dateOf(pace.day + years * YEAR),
              axis: Number.isNaN(pace.perYear) ? null : pace.origin + (pace.years + years) * pace.perYear,
              level: estimateOf(levelsOf(lines, pace.years + years)),
            };
          }),
    charts: chartsOf(moment, rho, tests, directions),
    p: towardsWorse.length === 0 ? null : Math.min(1, towardsWorse.length * Math.min(...towardsWorse)),
    q: null,
  };
}

function bound(x: number): number | null {
  return Number.isFinite(x) ? x : null;
}

function estimateOf(parts: readonly StudentPart[]): Estimate {
  return {
    value: mixtureQuantile(parts, 0.5),
    low: mixtureQuantile(parts, 0.025),
    high: mixtureQuantile(parts, 0.975),
  };
}

/** Probability that a size is 0 or less: one-sided p of a flat prior. */
function probabilityAgainst(parts: readonly StudentPart[]): number {
  return Math.min(1, Math.max(0, mixtureProbability(parts, 0)));
}

function perUse({ value, low, high }: Estimate, { kind, perYear }: Axis): NonNullable<MeasureTrend['slope']>['perUse'] {
  if (kind === 'time') return null;
  const of = kind === 'distance' ? '10000 km' : '100 h';
  const share = (kind === 'distance' ? 10000 : 100) / perYear;
  return { value: value * share, low: low * share, high: high * share, of };
}

/**
 * Drift a year, as old as the baseline, whose expected evidence passes the level with one standard error to spare for four
 * in five: the normal approximation of the factor solved for the size (derived: ln B = t2/2 - ln(1 + g S)/2).
 */
function detectableDrift({ memories, slopes }: Beliefs, level: number): number | null {
  if (slopes.length === 0 || memories.length === 0) return null;
  let sum = 0;
  let total = 0;
  for (const { rho, sizeError, weight } of slopes) {
    const { squares, degrees } = memories.find(({ of }) => of.rho === rho)!.of;
    const size = squares / degrees / (sizeError * sizeError);
    const t = Math.sqrt(2 * level + Math.log(1 + DRIFT_SCALE * DRIFT_SCALE * size)) + 0.84;
    sum += weight * t * sizeError;
    total += weight;
  }
  return sum / total;
}

/** Pace of wear against time, with the error of its mean from one look to the next. */
function paceOf({ years, days, series }: Moment, { axis, looks }: CarFacts): Pace {
  const last = series.looks.at(-1)!;
  const day = looks[last]!.day;
  const counted = axis.kind !== 'time';
  const shares: number[] = [];
  for (let i = 1; i < days.length; i++) {
    const time = (days[i]! - days[i - 1]!) / YEAR;
    if (time > 0) shares.push((years[i]! - years[i - 1]!) / time);
  }
  const mean = shares.reduce((sum, x) => sum + x, 0) / shares.length;
  const squares = shares.reduce((sum, x) => sum + (x - mean) ** 2, 0);
  const error = shares.length > 1 ? Math.sqrt(squares / (shares.length - 1) / shares.length) : 0;
  return {
    years: years.at(-1)!,
    day,
    origin: counted ? axis.values[0]! : Number.NaN,
    perYear: counted ? axis.perYear : Number.NaN,
    error: counted ? error : 0,
  };
}
