import { type Exceedance, exceeds } from '../../derived/exceeds.js';
import { KNOCK_CELL } from '../../derived/knock-map.js';
import type { Limit, Severity } from '../rule.js';
import type { KnockObservation, SeenKnock, SeenPull } from './knock-observation.js';

/** Repeats that turn a reading into a statement (common practice, no source). */
export const PULLS_AGREE = 2;
export const PULLS_REPAIR = 3;

/** The limit that decides, and the value that was held against it. */
export interface KnockGround {
  readonly severity: Severity;
  readonly limit: Limit;
  /** deg */
  readonly value: number;
  readonly uncertainty: number;
  /** What is compared, to be read after "in": `2 of 3 pulls`, `cylinder 3`. */
  readonly where: string;
  readonly events: readonly SeenKnock[];
}

export interface KnockWeighed {
  /** Weightiest first; empty when no limit was crossed for certain. */
  readonly grounds: readonly KnockGround[];
  /** Closest approach to the lowest limit, for "near the limit" and the confidence of `clear`. */
  readonly closest: { readonly value: number; readonly limit: Limit; readonly exceedance: Exceedance };
  /** Pulls whose retard reached the watch limit. */
  readonly struck: number;
}

/** Everything that all drives of the car showed. */
export interface KnockSeen {
  readonly events: readonly SeenKnock[];
  readonly pulls: readonly SeenPull[];
  readonly uncertainty: number;
}

export function gather(observations: readonly KnockObservation[]): KnockSeen {
  return {
    events: observations.flatMap((o) => o.events),
    pulls: observations.flatMap((o) => o.pulls),
    uncertainty: observations.reduce((most, o) => Math.max(most, o.uncertainty), 0),
  };
}

/** Value that at least `n` pulls reach; 0 when there are fewer pulls. */
function reachedBy(peaks: readonly number[], n: number): number {
  return [...peaks].sort((a, b) => b - a)[n - 1] ?? 0;
}

/** Holds what was seen against the limits, highest severity first. */
export function weighKnock(seen: KnockSeen, limits: Readonly<Record<string, Limit>>): KnockWeighed {
  const { events, pulls, uncertainty } = seen;
  const peaks = pulls.map((pull) => pull.peak);
  const second = reachedBy(peaks, PULLS_AGREE);
  const watch = limits.watch!;
  const grounds: KnockGround[] = [];
  const inPulls = (limit: Limit): string =>
    `${peaks.filter((peak) => peak >= limit.value).length} of ${pulls.length} pulls`;
  const ground = (severity: Severity, limit: Limit, value: number, u: number, where: string, own = events): void => {
    if (exceeds(value, u, limit.value, limit.comparison) === 'beyond') {
      grounds.push({ severity, limit, value, uncertainty: u, where, events: own });
    }
  };
  const reaching = (limit: Limit): SeenKnock[] => events.filter((event) => event.peak >= limit.value);

  ground('stop', limits.stop!, second, uncertainty, inPulls(limits.stop!), reaching(limits.stop!));
  const least = highest(events, (event) => event.least);
  if (least) ground('stop', limits.allCylinders!, least.least, uncertainty, 'all cylinders at once', [least]);
  const repair = limits.repair!;
  const severity = pulls.length >= PULLS_REPAIR ? 'repair' : 'watch';
  ground(severity, repair, second, uncertainty, inPulls(repair), reaching(repair));
  const cell = agreeingCell(pulls);
  if (cell) {
    const range = `${cell.speed}-${cell.speed + KNOCK_CELL.speed} rpm in ${cell.count(watch.value)} pulls`;
    ground('watch', watch, cell.value, uncertainty, range, reaching(watch));
  }
  const spread = highest(events, (event) => event.spread);
  const one = limits.cylinderSpread!;
  if (spread) {
    const apart = events.filter((event) => event.cylinder === spread.cylinder && event.spread >= one.value);
    ground('watch', one, spread.spread, spread.spreadUncertainty, `cylinder ${spread.cylinder}`, apart);
  }
  const rank: Record<Severity, number> = { stop: 0, repair: 1, watch: 2 };
  grounds.sort((a, b) => rank[a.severity] - rank[b.severity]);

  const lone = spread ? spread.spread : 0;
  const bySpread = lone / one.value > (cell?.value ?? 0) / watch.value;
  const value = bySpread ? lone : (cell?.value ?? 0);
  const limit = bySpread ? one : watch;
  const exceedance = exceeds(value, uncertainty, limit.value, limit.comparison);
  return { grounds, closest: { value, limit, exceedance }, struck: peaks.filter((p) => p >= watch.value).length };
}

function highest(events: readonly SeenKnock[], of: (event: SeenKnock) => number): SeenKnock | undefined {
  let best: SeenKnock | undefined;
  for (const event of events) {
    if (!Number.isNaN(of(event)) && !(best && of(best) >= of(event))) best = event;
  }
  return best;
}

/** The speed cell in which two pulls agree on the highest retard. */
function agreeingCell(
  pulls: readonly SeenPull[],
): { speed: number; value: number; count(limit: number): number } | undefined {
  const speeds = new Set(pulls.flatMap((pull) => [...pull.cells.keys()]));
  let best: { speed: number; value: number; count(limit: number): number } | undefined;
  for (const speed of [...speeds].sort((a, b) => a - b)) {
    const peaks = pulls.map((pull) => pull.cells.get(speed) ?? 0);
    const value = reachedBy(peaks, PULLS_AGREE);
    if (value > 0 && !(best && best.value >= value)) {
      best = { speed, value, count: (limit) => peaks.filter((peak) => peak >= limit).length };
    }
  }
  return best;
}
