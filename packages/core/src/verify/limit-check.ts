import { type Exceedance, exceeds } from '../derived/exceeds.js';
import { isRefusal, type Refusal } from '../derived/recipe.js';
import { contextFor } from '../engine/limits.js';
import { newcombeInterval, noneSeenBound, wilsonInterval } from '../math/count-interval.js';
import { ONE_SIDED_95 } from '../math/normal-quantile.js';
import { RULES } from '../rules/index.js';
import type { Limit } from '../rules/rule.js';
import { convert } from '../units/index.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { OwnLimits } from './limits-file.js';
import type { Reading } from './measure.js';
import type { MeasureDefinition } from './measure-definition.js';
import type { PullTrace } from './pull.js';
import type { LimitResult, WorstCase } from './verification.js';

/** Pulls from which "held" stands without "so far": 10 pulls without a break leave at most 26 % of breaking ones. */
export const FULL = 10;

/** Place that a limit of the exhaust belongs to, by measure. */
const PLACES: Readonly<Record<string, string>> = {
  'exhaust.before': 'before-turbine',
  'exhaust.after': 'after-turbine',
};

/** The limit of a measure: the tuner's own, else the profile's, else that of the rule; undefined = none, or not asked. */
export function limitFor(measure: MeasureDefinition, vehicle: Vehicle, own: OwnLimits | undefined): Limit | undefined {
  const { id, unit, worse, title } = measure;
  if (worse === undefined) return undefined;
  const given = own?.limits.get(id);
  if (given === null) return undefined;
  const comparison = worse === 'high' ? '>' : '<';
  if (given !== undefined) return { name: id, value: given, unit, comparison, source: 'limits file', about: title };
  if (measure.own !== undefined) {
    const { value, source } = measure.own;
    return { name: id, value, unit, comparison, source, about: measure.about };
  }
  if (measure.limit === undefined) return undefined;
  const { rule: ruleId, name } = measure.limit;
  const rule = RULES.find((each) => each.id === ruleId);
  const limit = rule === undefined ? undefined : contextFor(rule, vehicle).limits(variantOf(id, vehicle))[name];
  if (limit === undefined) throw new RangeError(`${id}: ${ruleId} has no limit ${name}`);
  const value = limit.unit === unit ? limit.value : convert(limit.value, limit.unit, unit);
  return { ...limit, name: id, value, unit, about: measure.about };
}

/** Limits of the fluid belong to a kind of transmission; unknown: dual clutch, the stricter ones. */
function variantOf(id: string, { transmission }: Vehicle): Record<string, string> {
  if (id === 'fluid.highest')
    return {
      place: transmission.fluidPlace ?? 'sump',
      kind: transmission.kind === 'converter' ? 'converter' : 'dual-clutch',
    };
  const place = PLACES[id];
  return place === undefined ? {} : { place };
}

export type Measured = ReadonlyMap<PullTrace, Reading | Refusal>;

/** One limit against every pull after the change; the pulls before stand beside it. */
export function checkLimit(measure: MeasureDefinition, limit: Limit, measured: Measured): LimitResult {
  const after = sideOf(measured, 'after', limit);
  const before = sideOf(measured, 'before', limit);
  const base = {
    id: measure.id,
    title: measure.title,
    limit,
    ...(limit.source === 'limits file' || measure.limit === undefined ? {} : { rule: measure.limit.rule }),
    pulls: after.shown.length,
    broken: after.broken.length,
  };
  const beside =
    before.shown.length === 0 || after.shown.length === 0
      ? {}
      : {
          before: {
            pulls: before.shown.length,
            broken: before.broken.length,
            change: newcombeInterval(
              after.broken.length,
              after.shown.length,
              before.broken.length,
              before.shown.length,
            ),
          },
        };
  if (after.shown.length === 0) return { ...base, ...notShown(after.refusals) };
  const worst = after.shown.reduce((a, b) => (sign(limit) * b[1].value > sign(limit) * a[1].value ? b : a));
  const shown = { ...base, worst: worstOf(measure, worst), ...beside };
  if (after.broken.length > 0)
    return {
      ...shown,
      outcome: 'broken',
      rate: wilsonInterval(after.broken.length, after.shown.length),
      notes: worst[1].clipped ? ['the sensor stood at the end of its range: the true value is further out'] : [],
    };
  const rate = { low: 0, high: noneSeenBound(after.shown.length) };
  const doubts = [
    ...(after.shown.some(([, each]) => each.clipped)
      ? ['the sensor stood at the end of its range: the true value is not known']
      : []),
    ...(after.near.length > 0
      ? [
          `${after.near.length === 1 ? 'one pull is' : `${after.near.length} pulls are`} too near the limit for a measurement that is sure to ${reachOf(measure, after.near)}`,
        ]
      : []),
  ];
  if (doubts.length > 0) return { ...shown, outcome: 'not-shown', rate, notes: doubts };
  return { ...shown, outcome: after.shown.length >= FULL ? 'held' : 'held-so-far', rate, notes: [] };
}

type Shown = readonly [PullTrace, Reading];

function sideOf(measured: Measured, side: PullTrace['side'], limit: Limit) {
  const shown: Shown[] = [];
  const refusals: Refusal[] = [];
  for (const [pull, reading] of measured) {
    if (pull.side !== side) continue;
    if (isRefusal(reading)) refusals.push(reading);
    else shown.push([pull, reading]);
  }
  const told = shown.map((each) => [each, exceeds(each[1].value, each[1].u, limit.value, limit.comparison)] as const);
  const of = (kind: Exceedance): Shown[] => told.filter(([, how]) => how === kind).map(([each]) => each);
  return { shown, refusals, broken: of('beyond'), near: of('near') };
}

/** Half-width of the 95 % bound in words. */
function reachOf({ unit }: MeasureDefinition, near: readonly Shown[]): string {
  const reach = ONE_SIDED_95 * Math.max(...near.map(([, { u }]) => u));
  return `+-${Number(reach.toPrecision(2))} ${unit === '1' ? '' : unit}`.trim();
}

function sign({ comparison }: Limit): 1 | -1 {
  return comparison.startsWith('>') ? 1 : -1;
}

function notShown(refusals: readonly Refusal[]): Pick<LimitResult, 'outcome' | 'notes' | 'missing'> {
  const missing = {
    channels: [...new Set(refusals.flatMap(({ missing }) => missing.channels))],
    conditions: [...new Set(refusals.flatMap(({ missing }) => missing.conditions))],
  };
  const notes = [...new Set(refusals.map(({ reason }) => reason))].slice(0, 3);
  // Port injection has no injection angle: nothing is missing, so nothing is open.
  const applies = !refusals.some(({ reason }) => /injection: judged by its/.test(reason));
  if (refusals.length === 0) return { outcome: 'not-shown', notes: ['no pull was found'], missing };
  return { outcome: applies ? 'not-shown' : 'not-applicable', notes, missing };
}

function worstOf({ unit }: MeasureDefinition, [pull, { value, at, speed, member }]: Shown): WorstCase {
  return {
    measure: { value, unit },
    pull: pull.number,
    input: pull.input,
    gear: pull.gear >= 1 ? pull.gear : null,
    at: Number.isNaN(at) ? null : at,
    engineSpeed: Number.isNaN(speed) ? null : speed,
    ...(member === '' ? {} : { member }),
  };
}
