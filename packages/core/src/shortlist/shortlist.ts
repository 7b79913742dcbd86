import type { Action, Assessment, Decision, Level, Verdict } from '../engine/assessment.js';
import type { Severity } from '../rules/rule.js';
import { ESSENTIAL } from '../verdict/verdict.js';

/** The document of `telltale shortlist`; field order here is field order in the JSON. */
export interface Shortlist {
  readonly schema: 'telltale/shortlist@1';
  /** Best first. */
  readonly candidates: readonly Candidate[];
  /** Whether the evidence settles the order of all neighbours, of some, or of none. */
  readonly order: 'settled' | 'partly' | 'open';
  readonly cautions: readonly string[];
}

export interface Candidate {
  readonly rank: number;
  /** Base name of the folder or file, never a path. */
  readonly name: string;
  readonly vehicle: { readonly id: string };
  readonly action: Action;
  readonly verdict: Verdict;
  readonly findings: readonly { readonly rule: string; readonly severity: Severity; readonly summary: string }[];
  /** Points of the walk-round sheet that are not sound, worst first; absent without a sheet. */
  readonly seen?: readonly { readonly point: string; readonly severity: Severity; readonly note: string }[];
  readonly unproven: { readonly count: number; readonly essential: readonly string[] };
  readonly sum?: NonNullable<Decision['sum']>;
  readonly inputs: { readonly used: number; readonly unusable: number };
  /** Against the next candidate; absent for the last. */
  readonly next?: { readonly settled: boolean; readonly because: string };
}

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };
const LEVEL: Readonly<Record<Level, string>> = {
  sound: 'sound',
  watch: 'to watch',
  repair: 'to repair',
  stop: 'to stop',
  unproven: 'unproven',
};

/**
 * Candidates side by side, best first: those to walk away from last, the others by the middle of their health index.
 * Two neighbours are settled when their index intervals do not overlap, or when one is to walk away from and the other
 * is not: everything else may turn with the next recording.
 */
export function shortlistOf(given: readonly { readonly name: string; readonly assessment: Assessment }[]): Shortlist {
  const order = [...given].sort(
    (a, b) =>
      Number(leaves(a.assessment)) - Number(leaves(b.assessment)) ||
      middle(b.assessment) - middle(a.assessment) ||
      b.assessment.verdict.coverage - a.assessment.verdict.coverage ||
      (a.name < b.name ? -1 : 1),
  );
  const candidates = order.map(({ name, assessment }, i): Candidate => {
    const next = order[i + 1];
    return {
      rank: i + 1,
      name,
      vehicle: assessment.vehicle,
      action: assessment.decision.action,
      verdict: assessment.verdict,
      findings: findingsOf(assessment),
      ...(assessment.seen === undefined ? {} : { seen: seenOf(assessment.seen) }),
      unproven: openOf(assessment),
      ...(assessment.decision.sum === undefined ? {} : { sum: assessment.decision.sum }),
      inputs: {
        used: assessment.inputs.filter(({ error }) => error === undefined).length,
        unusable: assessment.inputs.filter(({ error }) => error !== undefined).length,
      },
      ...(next === undefined ? {} : { next: against(assessment, next.assessment, next.name) }),
    };
  });
  const pairs = candidates.flatMap(({ next }) => (next === undefined ? [] : [next.settled]));
  const settled = pairs.filter(Boolean).length;
  return {
    schema: 'telltale/shortlist@1',
    candidates,
    order: settled === pairs.length ? 'settled' : settled === 0 ? 'open' : 'partly',
    cautions: [...new Set(given.flatMap(({ assessment }) => assessment.cautions))],
  };
}

const leaves = ({ decision }: Assessment): boolean => decision.action === 'walk-away';
const middle = ({ verdict: { index } }: Assessment): number => (index.low + index.high) / 2;

function findingsOf({ results }: Assessment): Candidate['findings'] {
  return results
    .flatMap((result) =>
      result.outcome === 'finding' && result.severity !== undefined
        ? [{ rule: result.rule, severity: result.severity, summary: result.summary, sure: result.confidence }]
        : [],
    )
    .sort((a, b) => RANK[b.severity] - RANK[a.severity] || b.sure - a.sure)
    .map(({ rule, severity, summary }) => ({ rule, severity, summary }));
}

function seenOf(seen: NonNullable<Assessment['seen']>): NonNullable<Candidate['seen']> {
  return seen
    .flatMap(({ point, state, note }) =>
      state === 'sound' || state === 'not-seen' ? [] : [{ point, severity: state, note }],
    )
    .sort((a, b) => RANK[b.severity] - RANK[a.severity]);
}

function openOf({ results }: Assessment): Candidate['unproven'] {
  const open = results.filter(({ outcome }) => outcome === 'unproven' || outcome === 'error').map(({ rule }) => rule);
  return { count: open.length, essential: ESSENTIAL.filter((rule) => open.includes(rule)) };
}

function against(better: Assessment, worse: Assessment, name: string): NonNullable<Candidate['next']> {
  const said = (a: Assessment) => `${Math.round(a.verdict.index.low)} to ${Math.round(a.verdict.index.high)}`;
  if (leaves(worse) && !leaves(better))
    return {
      settled: true,
      because: `${name} is one to walk away from (${LEVEL[worse.verdict.level]}), this one is not`,
    };
  if (better.verdict.index.low >= worse.verdict.index.high)
    return { settled: true, because: `index ${said(better)} lies above ${said(worse)} of ${name}` };
  return {
    settled: false,
    because: `index ${said(better)} overlaps ${said(worse)} of ${name}: what is still unproven may turn the order`,
  };
}
