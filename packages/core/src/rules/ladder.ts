import { exceeds } from '../derived/exceeds.js';
import type { Limit, Severity } from './rule.js';

export const SEVERITIES: readonly Severity[] = Object.freeze(['watch', 'repair', 'stop']);
const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

/** 0 = no finding. */
export function rankOf(severity: Severity | undefined): number {
  return severity === undefined ? 0 : RANK[severity];
}

/** The worst of them; undefined when there is none. */
export function worst(severities: Iterable<Severity | undefined>): Severity | undefined {
  let found: Severity | undefined;
  for (const each of severities) if (rankOf(each) > rankOf(found)) found = each;
  return found;
}

/**
 * NaN value gives none. Highest severity whose limit is exceeded at the one-sided 95 % bound; limits are named
 * `watch`, `repair`, `stop`, or `<what>-watch` … for the given quantity.
 * @param u standard uncertainty, in the unit of the limits
 */
export function levelOf(
  value: number,
  u: number,
  limits: Readonly<Record<string, Limit>>,
  what?: string,
): Severity | undefined {
  if (Number.isNaN(value)) return undefined;
  let found: Severity | undefined;
  for (const severity of SEVERITIES) {
    const limit = limits[nameOf(severity, what)];
    if (limit !== undefined && exceeds(value, u, limit.value, limit.comparison) === 'beyond') found = severity;
  }
  return found;
}

/** Name of the limit of a severity, and of the quantity where a rule judges several. */
export function nameOf(severity: Severity, what?: string): string {
  return what === undefined ? severity : `${what}-${severity}`;
}

/** The limit that a finding of that severity is told with. */
export function limitOf(limits: Readonly<Record<string, Limit>>, severity: Severity, what?: string): Limit {
  const limit = limits[nameOf(severity, what)];
  if (limit === undefined)
    throw new Error(`no limit ${nameOf(severity, what)}: expected one of ${Object.keys(limits)}`);
  return limit;
}
