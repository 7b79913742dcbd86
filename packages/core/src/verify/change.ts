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
import type { Order, Sessions } from './sessions.js';
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

/**
 * Before against after in one group of pulls: one number a pull, never samples.
 * @param primary ids of the endpoints that are tested, at most five; the usual ones without
 * @param made sessions of the inputs; without, every input is one, in an order that is not told
 */
export function changeOf(group: PullGroup, primary?: readonly string[], made?: Sessions): Change {
  const sessions: Sessions = made ?? {
    of: new Map([...group.before, ...group.after].map(({ input }) => [input, input])),
    order: 'not-told',
  };
  const chosen = primaryOf(group, primary);
  const tested = new Map(
    MEASURES.filter(({ id, compared = true }) => compared || chosen.includes(id)).map((each) => [
      each.id,
      endpointOf(each, group, chosen.includes(each.id) ? chosen.length : 0, sessions),
    ]),
  );
  const family = chosen.map((id) => tested.get(id)!).filter(({ p }) => p !== undefined);
  holm(family.map(({ p }) => p!)).forEach((adjustedP, i) => {
    const each = family[i]!;
    tested.set(each.id, { ...each, adjustedP, outcome: adjustedP < ALPHA ? 'changed' : 'not-distinguishable' });
  });
  const endpoints = [...tested.values()].filter(({ before, after }) => before.pulls > 0 && after.pulls > 0);
  const count = (side: 'before' | 'after'): number =>
    new Set(group[side].map(({ input }) => sessions.of.get(input))).size;
  const counts = { before: count('before'), after: count('after') };
  return {
    gear: group.gear >= 1 ? group.gear : null,
    engineSpeed: { from: group.range.low, to: group.range.high },
    pulls: { before: group.before.length, after: group.after.length },
    sessions: counts,
    order: sessions.order,
    ...attributionOf(counts, sessions.order, endpoints),
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
function endpointOf(measure: MeasureDefinition, group: PullGroup, family: number, sessions: Sessions): EndpointChange {
  const primary = family > 0;
  const { id, title, unit } = measure;
  const [before, after] = [valuesOf(measure, group, 'before'), valuesOf(measure, group, 'after')];
  const [a, b] = [before.map(({ value }) => value), after.map(({ value }) => value)];
  const base = { id, title, unit, primary, before: summary(a), after: summary(b) };
  if (a.length < FEWEST || b.length < FEWEST) return { ...base, outcome: 'too-few' };
  const found = welch(a, b)!;
  const smaller = Math.min(a.length, b.length);
  const adjusted = primary ? atEqualTemperature(before, after) : undefined;
  const apart = primary ? bySession(before, after, sessions) : undefined;
  return {
    ...base,
    outcome: primary ? 'not-distinguishable' : 'not-tested',
    difference: { value: found.difference, low: found.low, high: found.high },
    ...(primary ? { p: found.p } : {}),
    ...(found.error > 0
      ? { detectable: detectableDifference(found.error, found.degrees, ALPHA / Math.max(1, family)) }
      : {}),
    ...(adjusted === undefined ? {} : { atEqualTemperature: adjusted }),
    ...(apart === undefined ? {} : { bySession: apart }),
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

/** Difference with the session as the unit (Welch on the means of the sessions); undefined below two sessions a side. */
function bySession(before: Values, after: Values, { of }: Sessions): EndpointChange['bySession'] {
  const means = (values: Values): number[] => {
    const found = new Map<number, number[]>();
    for (const { pull, value } of values) {
      const session = of.get(pull.input) ?? -1;
      found.set(session, [...(found.get(session) ?? []), value]);
    }
    return [...found.values()].map((each) => mean(each));
  };
  const found = welch(means(before), means(after));
  return found === undefined ? undefined : { value: found.difference, low: found.low, high: found.high };
}

/** A session and a map that changed together stay one; maps that alternated part them, where the sessions agree. */
function attributionOf(
  sessions: Change['sessions'],
  order: Order,
  endpoints: readonly EndpointChange[],
): Pick<Change, 'attribution' | 'attributionReason'> {
  const unparted = (attributionReason: string) => ({ attribution: 'map-or-session' as const, attributionReason });
  if (sessions.before < 2 || sessions.after < 2)
    return unparted(
      'each map was driven in a session of its own: what weather, fuel, road and heat did between them cannot be taken out. Alternate the maps (before, after, before, after) on one day to part them',
    );
  const counted = `${sessions.before} sessions before and ${sessions.after} after`;
  if (order === 'not-told')
    return unparted(
      `${counted}, but not every recording holds the date and time at which it was made: whether the maps alternated cannot be told`,
    );
  if (order === 'one-after-the-other')
    return unparted(
      `${counted}, one map after the other: what drifted meanwhile cannot be taken out. Alternate the maps (before, after, before, after) on one day to part them`,
    );
  const changed = endpoints.filter(({ outcome }) => outcome === 'changed');
  const doubtful = changed.filter(({ bySession: each }) => each === undefined || (each.low <= 0 && each.high >= 0));
  if (changed.length === 0) return unparted(`${counted}, alternating; nothing that was tested changed`);
  if (doubtful.length > 0)
    return unparted(
      `${counted}, alternating, but with the session as the unit ${doubtful.map(({ title }) => title).join(', ')} could be chance: sessions of one map differ too much among themselves, or are too few`,
    );
  return {
    attribution: 'map',
    attributionReason: `${counted}, alternating, and what changed is also seen with the session as the unit: weather, heat and fuel would have had to change with the map each time`,
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
