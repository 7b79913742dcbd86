import type { Level, Result, SystemVerdict, Verdict } from '../engine/assessment.js';
import type { Severity, System } from '../rules/rule.js';

/** What the verdict has to know of a rule. */
export interface Weighted {
  readonly id: string;
  readonly system: System;
  readonly weight: number;
}

/** Coverage from which a car without findings may be called sound (contract). */
export const SOUND_COVERAGE = 0.6;

/** Rules that must have been shown before a car is called sound: what ends an engine or a gearbox (contract). */
export const ESSENTIAL: readonly string[] = Object.freeze([
  'transmission.over-temperature',
  'engine.knock',
  'fuel.lambda-load',
  'engine.oil-pressure',
  'engine.cooling',
]);

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

/** Health that is left after a finding of each severity, 0..1: our own scale, for ordering cars only. */
const HEALTH: Readonly<Record<Severity, number>> = { watch: 0.7, repair: 0.3, stop: 0 };

/** Highest index of a car with a finding of that severity: our own scale as well. */
const CEILING: Readonly<Record<Severity, number>> = { watch: 90, repair: 75, stop: 40 };

/**
 * The verdict over all results. Level = worst severity found; `sound` needs no finding, coverage >= 0.6 and no
 * essential rule unproven (or absent); otherwise `unproven`. Nothing assessed is `unproven`, never `sound`.
 * @param only the user asked for some of the rules: the reasons say so first.
 */
export function verdictOf(results: readonly Result[], rules: readonly Weighted[], only = false): Verdict {
  const coverage = coverageOf(results, rules);
  return {
    level: levelOf(results, coverage, openEssentials(results, ESSENTIAL)),
    coverage,
    index: indexOf(results, rules),
    reasons: only ? [...PARTIAL, ...findingReasons(results, rules)] : reasonsOf(results, rules, coverage),
  };
}

/** One level a system, in the order in which the systems appear among the rules; systems without an applicable rule are left out. */
export function systemVerdicts(results: readonly Result[], rules: readonly Weighted[]): SystemVerdict[] {
  const byId = new Map(rules.map((rule) => [rule.id, rule]));
  const groups = new Map<System, Result[]>();
  for (const result of results) {
    const system = byId.get(result.rule)?.system;
    if (system === undefined || result.outcome === 'not-applicable') continue;
    const group = groups.get(system) ?? [];
    group.push(result);
    groups.set(system, group);
  }
  return [...groups].map(([id, group]) => {
    const coverage = coverageOf(group, rules);
    const essentials = ESSENTIAL.filter((rule) => byId.get(rule)?.system === id);
    return { id, level: levelOf(group, coverage, openEssentials(group, essentials)), coverage };
  });
}

/** Weight of clear + finding over weight of applicable rules; 0 when no rule applies. */
export function coverageOf(results: readonly Result[], rules: readonly Weighted[]): number {
  const weights = weightsOf(rules);
  let shown = 0;
  let applicable = 0;
  for (const result of results) {
    if (result.outcome === 'not-applicable') continue;
    const weight = weights.get(result.rule) ?? 1;
    applicable += weight;
    if (result.outcome === 'clear' || result.outcome === 'finding') shown += weight;
  }
  return applicable === 0 ? 0 : shown / applicable;
}

/**
 * Health index as an interval, 0 (worst) to 100. Each applicable rule i of weight w gives health between low and high:
 * clear with confidence c: [c, 1]; finding with health h of its severity: [h c, h + (1 - c)(1 - h)]; not shown: [0, 1].
 * Index = 100 sum(w low) / sum(w) .. 100 sum(w high) / sum(w), and both ends at most the ceiling of the worst severity
 * found: many clear answers never make up for one broken part. The width is what was not shown or not sure.
 */
export function indexOf(results: readonly Result[], rules: readonly Weighted[]): { low: number; high: number } {
  const weights = weightsOf(rules);
  let low = 0;
  let high = 0;
  let total = 0;
  for (const result of results) {
    if (result.outcome === 'not-applicable') continue;
    const weight = weights.get(result.rule) ?? 1;
    const [least, most] = healthOf(result);
    low += weight * least;
    high += weight * most;
    total += weight;
  }
  if (total === 0) return { low: 0, high: 100 };
  const worst = worstOf(results);
  const ceiling = worst === undefined ? 100 : CEILING[worst];
  return { low: Math.min(ceiling, (100 * low) / total), high: Math.min(ceiling, (100 * high) / total) };
}

function healthOf(result: Result): readonly [number, number] {
  if (result.outcome === 'clear') return [result.confidence, 1];
  if (result.outcome === 'finding') {
    const health = HEALTH[result.severity ?? 'watch'];
    return [health * result.confidence, health + (1 - result.confidence) * (1 - health)];
  }
  return [0, 1];
}

function levelOf(results: readonly Result[], coverage: number, open: readonly string[]): Level {
  const worst = worstOf(results);
  if (worst !== undefined) return worst;
  return coverage >= SOUND_COVERAGE && open.length === 0 ? 'sound' : 'unproven';
}

function worstOf(results: readonly Result[]): Severity | undefined {
  let worst: Severity | undefined;
  for (const result of results) {
    if (result.outcome !== 'finding' || result.severity === undefined) continue;
    if (worst === undefined || RANK[result.severity] > RANK[worst]) worst = result.severity;
  }
  return worst;
}

/** Essential rules that were neither clear, nor a finding, nor not applicable: also those that were not run at all. */
function openEssentials(results: readonly Result[], essentials: readonly string[]): string[] {
  const settled = new Set(
    results
      .filter((result) => result.outcome !== 'unproven' && result.outcome !== 'error')
      .map((result) => result.rule),
  );
  return essentials.filter((id) => !settled.has(id));
}

const PARTIAL: readonly string[] = ['Only some rules were asked for, so this is no verdict on the car as a whole.'];

/** Summaries of the findings, the weightiest first. */
function findingReasons(results: readonly Result[], rules: readonly Weighted[]): string[] {
  const weights = weightsOf(rules);
  return results
    .filter((result) => result.outcome === 'finding')
    .sort((a, b) => order(b, weights) - order(a, weights))
    .map((result) => result.summary);
}

function reasonsOf(results: readonly Result[], rules: readonly Weighted[], coverage: number): string[] {
  const findings = findingReasons(results, rules);
  if (findings.length > 0) return findings;
  const open = openEssentials(results, ESSENTIAL);
  const reasons: string[] = [];
  if (open.length > 0) reasons.push(`Not shown, and needed before a car is called sound: ${open.join(', ')}.`);
  if (coverage < SOUND_COVERAGE) {
    reasons.push(`The recording proves ${percent(coverage)} of what was asked; ${percent(SOUND_COVERAGE)} are needed.`);
  }
  if (reasons.length === 0) reasons.push('Nothing was found, and enough was shown.');
  return reasons;
}

function order(result: Result, weights: ReadonlyMap<string, number>): number {
  if (result.outcome !== 'finding') return 0;
  return RANK[result.severity ?? 'watch'] * 100 + (weights.get(result.rule) ?? 1) * 10 + result.confidence;
}

function percent(share: number): string {
  return `${Math.round(share * 100)} %`;
}

function weightsOf(rules: readonly Weighted[]): Map<string, number> {
  return new Map(rules.map((rule) => [rule.id, rule.weight]));
}
