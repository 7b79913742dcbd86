import type { Action, Decision, Result, Verdict } from '../engine/assessment.js';
import type { Severity } from '../rules/rule.js';
import type { Seen } from '../sheet/point.js';
import { SOUND_COVERAGE } from '../verdict/verdict.js';
import type { Amount, Prices } from './prices.js';
import { questionAbout } from './questions.js';

export interface DecisionInputs {
  readonly verdict: Verdict;
  readonly results: readonly Result[];
  readonly seen: readonly Seen[];
  readonly prices?: Prices;
  /** Only some rules were asked for: then nothing is decided on the car as a whole. */
  readonly partial?: boolean;
}

interface Found {
  readonly about: string;
  readonly severity: Severity;
  readonly says: string;
  readonly confidence: number;
}

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };
/** A finding that is less sure than this does not send a buyer away by itself. */
const SURE = 0.5;
/** So many different doubts in the evidence itself are no accident. Common practice, no source. */
const PREPARED = 2;

/** Share of its questions from which a system was seen well. */
const SEEN_WELL = 0.6;

/** What each doubt in the evidence comes to, in plain words. */
const DOUBT: Readonly<Record<string, string>> = {
  'provenance.recording': 'the recording was altered',
  'provenance.distance': 'the distances do not agree',
  'provenance.recent-clear': 'codes were cleared shortly before',
  'provenance.cold-start': 'the engine had been warmed up',
  'provenance.claims': 'claims are contradicted',
  'provenance.calibration': 'the software is not what it should be',
  'provenance.sensor-agreement': 'sensors contradict each other',
};

/**
 * From verdict, findings, what was seen by eye and prices to what to do. Walk away: a stop that is sure, or evidence
 * that was prepared. Record more: nothing grave found, but not enough shown. Negotiate: anything else was found. Buy:
 * nothing found, enough shown.
 */
export function decide({ verdict, results, seen, prices, partial = false }: DecisionInputs): Decision {
  const found = [...findings(results), ...observations(seen)].sort(
    (a, b) => RANK[b.severity] - RANK[a.severity] || b.confidence - a.confidence,
  );
  const stops = found.filter(({ severity, confidence }) => severity === 'stop' && confidence >= SURE);
  const doubts = found.filter(
    ({ about, severity }) =>
      about.startsWith('provenance.') && (severity !== 'watch' || about !== 'provenance.calibration'),
  );
  const prepared = doubts.length >= PREPARED && doubts.some(({ severity }) => severity !== 'watch');
  const enough = verdict.coverage >= SOUND_COVERAGE;
  const grave = found.some(({ severity }) => severity !== 'watch');
  const action: Action =
    stops.length > 0 || prepared
      ? 'walk-away'
      : partial || (!grave && verdict.level !== 'sound' && !(found.length > 0 && enough))
        ? 'record-more'
        : found.length > 0
          ? 'negotiate'
          : 'buy';
  return {
    action,
    reasons: reasonsFor(action, found, prepared ? doubts : [], verdict, results, partial),
    questions: questionsFor(found),
    ...(prices === undefined ? {} : { sum: sumOf(found, prices) }),
  };
}

function findings(results: readonly Result[]): Found[] {
  return results.flatMap((result): Found[] =>
    result.outcome === 'finding' && result.severity !== undefined
      ? [{ about: result.rule, severity: result.severity, says: result.summary, confidence: result.confidence }]
      : [],
  );
}

function observations(seen: readonly Seen[]): Found[] {
  return seen.flatMap(({ point, state, note }): Found[] =>
    state === 'sound' || state === 'not-seen'
      ? []
      : [
          {
            about: point,
            severity: state,
            says: `Seen by eye, ${point}: ${note === '' ? state : note}`,
            confidence: 1,
          },
        ],
  );
}

function reasonsFor(
  action: Action,
  found: readonly Found[],
  doubts: readonly Found[],
  verdict: Verdict,
  results: readonly Result[],
  partial: boolean,
): string[] {
  const reasons: string[] = [];
  if (partial) reasons.push('Only some rules were asked for: nothing is decided on the car as a whole.');
  if (doubts.length > 0)
    reasons.push(
      `The evidence cannot be trusted in ${doubts.length} ways: ${doubts.map(({ about }) => DOUBT[about] ?? about).join(', ')}. What looks good in it proves little.`,
    );
  for (const { says } of found) reasons.push(says);
  const shown = `${Math.round(verdict.coverage * 100)} %`;
  if (action === 'record-more' && !partial) reasons.push(...(found.length > 0 ? [] : verdict.reasons));
  if (action === 'negotiate' && verdict.coverage < SOUND_COVERAGE)
    reasons.push(`Only ${shown} of what was asked was shown: record more before money changes hands.`);
  if (action === 'buy')
    reasons.push(`Nothing was found, and ${shown} of what was asked was shown.`, ...lookedAt(results));
  return reasons;
}

/** Systems that were seen well and those that were not, with how many of their questions were answered. */
function lookedAt(results: readonly Result[]): string[] {
  const systems = new Map<string, { answered: number; asked: number }>();
  for (const { rule, outcome } of results) {
    if (outcome === 'not-applicable') continue;
    const system = rule.split('.')[0]!;
    const { answered, asked } = systems.get(system) ?? { answered: 0, asked: 0 };
    systems.set(system, { answered: answered + (outcome === 'clear' ? 1 : 0), asked: asked + 1 });
  }
  const list = (well: boolean) =>
    [...systems]
      .filter(([, { answered, asked }]) => answered >= SEEN_WELL * asked === well)
      .map(([system, { answered, asked }]) => `${system} (${answered} of ${asked} questions)`)
      .join(', ');
  const [good, open] = [list(true), list(false)];
  return [
    ...(good === '' ? [] : [`Looked at and good: ${good}.`]),
    ...(open === '' ? [] : [`Seen too little to say: ${open}.`]),
  ];
}

function questionsFor(found: readonly Found[]): { about: string; question: string }[] {
  const asked = new Set<string>();
  return found.flatMap(({ about }) => {
    const question = questionAbout(about);
    if (question === undefined || asked.has(question)) return [];
    asked.add(question);
    return [{ about, question }];
  });
}

/** A finding to watch may cost nothing: its low end is zero. One price stands for a system once, however much was found in it. */
function sumOf(found: readonly Found[], prices: Prices): NonNullable<Decision['sum']> {
  const items = new Map<string, Amount>();
  const unpriced: string[] = [];
  for (const { about, severity } of found) {
    const topic = [about, about.split('.')[0]!].find((each) => prices.amounts.has(each));
    if (topic === undefined) {
      unpriced.push(about);
      continue;
    }
    const { low, high } = prices.amounts.get(topic)!;
    const before = items.get(topic);
    items.set(topic, { low: severity === 'watch' ? (before?.low ?? 0) : low, high });
  }
  let low = 0;
  let high = 0;
  for (const item of items.values()) {
    low += item.low;
    high += item.high;
  }
  return {
    low,
    high,
    currency: prices.currency,
    items: [...items].map(([about, amount]) => ({ about, ...amount })),
    unpriced,
  };
}
