import { isRefusal } from '../derived/recipe.js';
import { expectedMaximum } from '../math/expected-maximum.js';
import { holm } from '../math/holm.js';
import { leastSquares } from '../math/least-squares.js';
import { mean } from '../math/mean.js';
import { standardDeviation } from '../math/standard-deviation.js';
import { studentQuantile } from '../math/student.js';
import { detectableDifference, welch } from '../math/welch.js';
import type { PullGroup } from './groups.js';
import { MOST_PRIMARY } from './limits-file.js';
import type { MeasureDefinition } from './measure-definition.js';
import { MEASURES } from './measures.js';
import type { PullConditions, PullTrace } from './pull.js';
import type { Change, EndpointChange, GroupSummary } from './verification.js';

/** Pulls of each side below which nothing is tested: two give hardly a spread. */
const FEWEST = 3;
/** Pulls of each side from which a difference is also told at equal temperature. */
const ADJUSTED_FROM = 5;
/** Level of the whole family of primary endpoints. */
const ALPHA = 0.05;

/** Measures whose extreme is the point: maxima are compared at equal numbers of pulls. */
const EXTREMES = new Set(['knock.worst', 'mixture.lean', 'boost.overshoot']);

const CONDITIONS: readonly (readonly [keyof PullConditions, string, string, number])[] = [
  // id, title, unit, difference that matters
  ['ambientTemperature', 'outside air', 'degC', 5],
  ['ambientPressure', 'barometer', 'kPa', 1],
  ['chargeTemperature', 'charge air at the start', 'degC', 5],
  ['coolantTemperature', 'coolant at the start', 'degC', 8],
  ['oilTemperature', 'engine oil at the start', 'degC', 10],
  ['fluidTemperature', 'transmission fluid at the start', 'degC', 15],
  ['ethanol', 'ethanol in the fuel', '%', 5],
];

/** Before against after in one group of pulls: one number a pull, never samples. */
export function changeOf(group: PullGroup, primary?: readonly string[]): Change {
  const chosen = primaryOf(group, primary);
  const tested = new Map(
    MEASURES.filter(({ id, compared = true }) => compared || chosen.includes(id)).map((each) => [
      each.id,
      endpointOf(each, group, chosen.includes(each.id) ? chosen.length : 0),
    ]),
  );
  const family = chosen.map((id) => tested.get(id)!).filter(({ p }) => p !== undefined);
  holm(family.map(({ p }) => p!)).forEach((adjustedP, i) => {
    const each = family[i]!;
    tested.set(each.id, { ...each, adjustedP, outcome: adjustedP < ALPHA ? 'changed' : 'not-distinguishable' });
  });
  const endpoints = [...tested.values()].filter(({ before, after }) => before.pulls > 0 && after.pulls > 0);
  const sessions = { before: sessionsOf(group.before), after: sessionsOf(group.after) };
  return {
    gear: group.gear >= 1 ? group.gear : null,
    engineSpeed: { from: group.range.low, to: group.range.high },
    pulls: { before: group.before.length, after: group.after.length },
    sessions: { before: sessions.before.size, after: sessions.after.size },
    ...attributionOf(sessions.before, sessions.after),
    conditions: conditionsOf(group),
    // The family first, in its order.
    endpoints: [
      ...chosen.flatMap((id) => endpoints.find((each) => each.id === id) ?? []),
      ...endpoints.filter(({ primary: is }) => !is),
    ],
  };
}

/** The wanted ones, else the usual ones that both sides show; never more than five. */
function primaryOf(group: PullGroup, wanted: readonly string[] | undefined): string[] {
  if (wanted !== undefined) return wanted.slice(0, MOST_PRIMARY);
  return MEASURES.filter(({ primary }) => primary !== undefined)
    .sort((a, b) => a.primary! - b.primary!)
    .filter(
      (each) => valuesOf(each, group, 'before').length >= FEWEST && valuesOf(each, group, 'after').length >= FEWEST,
    )
    .slice(0, MOST_PRIMARY)
    .map(({ id }) => id);
}

/** One number a pull, with the pull it is of. */
function valuesOf(
  measure: MeasureDefinition,
  group: PullGroup,
  side: 'before' | 'after',
): { readonly pull: PullTrace; readonly value: number }[] {
  return group[side].flatMap((pull) => {
    const reading = measure.read(pull, group.range);
    return isRefusal(reading) ? [] : [{ pull, value: reading.value }];
  });
}

/** @param family primary endpoints that it is tested with, itself included; 0 = not tested */
function endpointOf(measure: MeasureDefinition, group: PullGroup, family: number): EndpointChange {
  const primary = family > 0;
  const { id, title, unit } = measure;
  const [before, after] = [valuesOf(measure, group, 'before'), valuesOf(measure, group, 'after')];
  const [a, b] = [before.map(({ value }) => value), after.map(({ value }) => value)];
  const base = { id, title, unit, primary, before: summary(a), after: summary(b) };
  if (a.length < FEWEST || b.length < FEWEST) return { ...base, outcome: 'too-few' };
  const found = welch(a, b)!;
  const smaller = Math.min(a.length, b.length);
  const adjusted = primary ? atEqualTemperature(before, after) : undefined;
  return {
    ...base,
    outcome: primary ? 'not-distinguishable' : 'not-tested',
    difference: { value: found.difference, low: found.low, high: found.high },
    ...(primary ? { p: found.p } : {}),
    ...(found.error > 0
      ? { detectable: detectableDifference(found.error, found.degrees, ALPHA / Math.max(1, family)) }
      : {}),
    ...(adjusted === undefined ? {} : { atEqualTemperature: adjusted }),
    ...(EXTREMES.has(id)
      ? { maxima: { pulls: smaller, before: expectedMaximum(a, smaller), after: expectedMaximum(b, smaller) } }
      : {}),
  };
}

function summary(values: readonly number[]): GroupSummary {
  return {
    pulls: values.length,
    mean: mean(values),
    deviation: values.length > 1 ? standardDeviation(values) : null,
  };
}

type Values = readonly { readonly pull: PullTrace; readonly value: number }[];

/**
 * Difference of the sides with the charge temperature at the start taken out by one slope for both (analysis of
 * covariance: Draper & Smith, Applied Regression Analysis, ch. 14). Undefined with few pulls, without temperatures, or
 * when those of one side lie wholly beyond the other's: then nothing parts map and weather.
 */
function atEqualTemperature(before: Values, after: Values): { value: number; low: number; high: number } | undefined {
  if (before.length < ADJUSTED_FROM || after.length < ADJUSTED_FROM) return undefined;
  const rows = [...before, ...after];
  const temperatures = rows.map(({ pull }) => pull.conditions.chargeTemperature);
  const [a, b] = [temperatures.slice(0, before.length), temperatures.slice(before.length)];
  if (temperatures.some(Number.isNaN)) return undefined;
  if (Math.max(...a) <= Math.min(...b) || Math.max(...b) <= Math.min(...a)) return undefined;
  const centre = mean(temperatures);
  const fit = leastSquares(
    [rows.map(() => 1), rows.map((_, i) => (i < before.length ? 0 : 1)), temperatures.map((t) => t - centre)],
    rows.map(({ value }) => value),
  );
  if (fit === undefined || Number.isNaN(fit.variance)) return undefined;
  const value = fit.coefficients[1]!;
  const reach = studentQuantile(0.975, fit.rows - 3) * Math.sqrt(fit.variance * fit.inverse[4]!);
  return { value, low: value - reach, high: value + reach };
}

function sessionsOf(pulls: readonly PullTrace[]): Set<number> {
  return new Set(pulls.map(({ input }) => input));
}

/** No recording tells in which order the sessions were driven; a session and a map that changed together stay one. */
function attributionOf(
  before: ReadonlySet<number>,
  after: ReadonlySet<number>,
): Pick<Change, 'attribution' | 'attributionReason'> {
  return {
    attribution: 'map-or-session',
    attributionReason:
      before.size >= 2 && after.size >= 2
        ? `${before.size} sessions before and ${after.size} after: what differs between sessions is in the spread of the pulls only in part, and the recordings do not show that the sessions alternated`
        : 'each map was driven in a session of its own: what weather, fuel, road and heat did between them cannot be taken out. Alternate the maps (before, after, before, after) on one day to part them',
  };
}

function conditionsOf({ before, after }: PullGroup): Change['conditions'] {
  return CONDITIONS.flatMap(([id, title, unit]) => {
    const [a, b] = [before, after].map((side) => mean(side.map(({ conditions }) => conditions[id])));
    return Number.isNaN(a!) || Number.isNaN(b!) ? [] : [{ id, title, unit, before: a!, after: b! }];
  });
}

/** Conditions that differ by more than a change of map can be told over. */
export function unlikeConditions(change: Change): string[] {
  return change.conditions.flatMap(({ id, title, unit, before, after }) => {
    const least = CONDITIONS.find(([known]) => known === id)![3];
    const shown = unit === 'degC' ? 'K' : unit;
    return Math.abs(after - before) > least
      ? [`${title} differs by ${Math.round(10 * (after - before)) / 10} ${shown} between before and after`]
      : [];
  });
}
