import type { Chain, ChainSign, Result } from '../engine/assessment.js';

/** What a suspicion asks of the results; every answer is read from results only. */
export interface Evidence {
  /** The finding of a rule, undefined when it found nothing. */
  found(rule: string): Result | undefined;
  clear(rule: string): boolean;
  /** A measure of a clear answer or finding; NaN when it is not there. */
  measure(rule: string, name: string): number;
  open(rule: string): boolean;
}

/** One possible reason, with what speaks for it and against it, and how it is tested. */
export interface Suspicion {
  readonly cause: string;
  /** Signs that the results show; a weight below 0 speaks against. a `lead` sign of a finding names it, others only support. */
  readonly signs: (evidence: Evidence) => readonly (Sign | false | undefined)[];
  readonly tests: readonly Test[];
}

export interface Sign {
  readonly rule: string;
  readonly says: string;
  readonly weight: number;
  readonly lead?: boolean;
}

export interface Test {
  /** 0 look and listen, 1 record, 2 hand tools and a smoke device or gauge, 3 parts. */
  readonly cost: 0 | 1 | 2 | 3;
  readonly test: string;
  readonly tells: string;
}

/** A problem that several rules see from different sides. */
export interface Problem {
  readonly id: string;
  readonly problem: string;
  readonly suspicions: readonly Suspicion[];
}

/** More suspects and tests than this make no chain. */
const SUSPECTS = 4;
const TESTS = 6;

function evidenceOf(results: readonly Result[]): Evidence {
  const by = new Map(results.map((result) => [result.rule, result]));
  const get = (rule: string): Result | undefined => by.get(rule);
  return {
    found: (rule) => (get(rule)?.outcome === 'finding' ? get(rule) : undefined),
    clear: (rule) => get(rule)?.outcome === 'clear',
    open: (rule) => get(rule)?.outcome === 'unproven',
    measure: (rule, name) => {
      const result = get(rule);
      if (result === undefined || (result.outcome !== 'clear' && result.outcome !== 'finding')) return Number.NaN;
      const value = result.measures?.[name]?.value;
      return typeof value === 'number' ? value : Number.NaN;
    },
  };
}

/**
 * Suspects ranked by the pattern of evidence over several rules, and the tests that part them, cheapest first. Nothing
 * found gives nothing. The weights order suspects only; they are no probabilities (common practice, no source).
 */
export function chainOf({ id, problem, suspicions }: Problem, results: readonly Result[]): Chain | undefined {
  const evidence = evidenceOf(results);
  const suspects = suspicions
    .map(({ cause, signs, tests }) => {
      const seen = signs(evidence).filter((each): each is Sign => each !== undefined && each !== false);
      const weight = seen.reduce((sum, each) => sum + each.weight, 0);
      return {
        cause,
        seen,
        weight,
        tests,
        led: seen.some(({ lead, rule }) => lead === true && evidence.found(rule) !== undefined),
      };
    })
    .filter(({ led, weight }) => led && weight > 0)
    .sort((a, b) => b.weight - a.weight)
    .slice(0, SUSPECTS);
  if (suspects.length === 0) return undefined;
  const tests = new Map<string, Test & { readonly rank: number }>();
  suspects.forEach((each, rank) => {
    for (const test of each.tests) if (!tests.has(test.test)) tests.set(test.test, { ...test, rank });
  });
  // A dear test of the first suspect comes after the cheap ones of all: that is how a mechanic works.
  const ordered = [...tests.values()].sort((a, b) => a.cost - b.cost || a.rank - b.rank).slice(0, TESTS);
  return {
    id,
    problem,
    suspects: suspects.map(({ cause, seen }) => ({
      cause,
      signs: seen.map(({ rule, says, weight }): ChainSign => ({ rule, says, speaks: weight > 0 ? 'for' : 'against' })),
    })),
    tests: ordered.map(({ test, tells }) => ({ test, tells })),
  };
}
