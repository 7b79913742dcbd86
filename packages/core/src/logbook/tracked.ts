import type { Rule } from '../rules/rule.js';
import { convert } from '../units/index.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { TrackedMeasure } from './entry.js';
import type { TrackedRow } from './tracked-row.js';
import { TRACKED_ROWS } from './tracked-rows.js';

/** Id in the book of a measure of a result: rule and name. */
export function trackedId(rule: string, measure: string): string {
  return `${rule}.${measure}`;
}

/** The row that follows a measure of a rule, and what its star stands for ('' without one); undefined = not followed. */
export function trackedRow(rule: string, measure: string): { row: TrackedRow; part: string } | undefined {
  for (const row of TRACKED_ROWS) {
    if (row.rule !== rule) continue;
    if (row.measure === measure) return { row, part: '' };
    const stem = row.measure.endsWith('*') ? row.measure.slice(0, -1) : undefined;
    const part = stem === undefined || !measure.startsWith(stem) ? undefined : measure.slice(stem.length);
    // A bank has a number: the difference between banks is told by them.
    if (part === undefined || (stem?.endsWith('bank') === true && !/^\d+$/.test(part))) continue;
    return { row, part };
  }
  return undefined;
}

/**
 * What the book knows of a measure id; undefined for an id that is not followed (an older or newer book may hold one).
 * The limit is the rule's, by name, in the variant that fits the car, with the profile's own limits applied.
 * @param rules all rules, for their limits
 */
export function trackedMeasure(id: string, rules: readonly Rule[], vehicle?: Vehicle): TrackedMeasure | undefined {
  const rule = rules.find((each) => id.startsWith(`${each.id}.`));
  if (rule === undefined) return undefined;
  const found = trackedRow(rule.id, id.slice(rule.id.length + 1));
  if (found === undefined) return undefined;
  const { row, part } = found;
  return {
    id,
    // A position has its number set apart: clutch 1.
    name: row.name.replace('*', part.replace(/([a-z])(\d+)$/, '$1 $2')).trim(),
    unit: row.unit,
    worse: row.worse,
    limit: limitOf(row, rule, vehicle),
    rebaselinedBy: row.rebaselinedBy ?? [],
    movedBy: row.movedBy ?? [],
  };
}

function limitOf(row: TrackedRow, rule: Rule, vehicle: Vehicle | undefined): TrackedMeasure['limit'] {
  if (row.limit === undefined) return null;
  const named = rule.limits.filter(({ name }) => name === row.limit);
  const own = vehicle?.limits[rule.id]?.[row.limit];
  const [first] = named;
  if (own !== undefined && first !== undefined)
    return { value: convert(own.value, own.unit, first.unit), name: row.limit, source: 'profile' };
  const { kind, fluidPlace } = vehicle?.transmission ?? {};
  const told: Readonly<Record<string, string | undefined>> = { kind, place: fluidPlace };
  const fitting = named.filter(({ when = {} }) =>
    Object.entries(when).every(([key, value]) => told[key] === undefined || told[key] === value),
  );
  if (fitting.length === 0) return null;
  // Which variant counts is not known here: the one that is reached last, so that no drift is called for nothing.
  const value = fitting
    .map((each) => each.value)
    .reduce((a, b) => (first?.comparison.startsWith('<') === true ? Math.min(a, b) : Math.max(a, b)));
  return { value, name: row.limit, source: fitting[0]!.source };
}
