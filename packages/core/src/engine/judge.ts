import { type Drive, isRefusal, type Missing, type Refusal } from '../derived/recipe.js';
import type { Contradicted, Judgement, Observed, OtherResult, Rule } from '../rules/rule.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { Result } from './assessment.js';
import { contextFor } from './limits.js';
import { lacking, narrow, nearest } from './view.js';

/** What one rule has seen of a car so far: small, so that recordings can be let go one after the other. */
export interface Notebook {
  readonly rule: Rule;
  readonly observed: Observed<unknown>[];
  readonly refusals: Refusal[];
  /** Message of the first exception; the rule is then not judged. */
  failure?: string;
}

export function openNotebooks(rules: readonly Rule[]): Notebook[] {
  return rules.map((rule) => ({ rule, observed: [], refusals: [] }));
}

/** Lets every rule look at one drive. A rule that throws is marked failed; the others go on. */
export function observe(notebooks: readonly Notebook[], whole: Drive): void {
  for (const notebook of notebooks) {
    const { rule } = notebook;
    const drive = rule.slow === true ? whole.slow : whole;
    if (drive.recording.readOut !== undefined && rule.readOuts !== true) continue;
    if (notebook.failure !== undefined || rule.notApplicable?.(drive.vehicle) !== undefined) continue;
    try {
      // A read-out lacks nearly everything: the rule itself says what it makes of what is there.
      const missing = drive.recording.readOut === undefined ? lacking(drive, rule) : undefined;
      const seen = missing ?? rule.observe(narrow(drive, rule), contextFor(rule, drive.vehicle));
      if (isRefusal(seen)) notebook.refusals.push(seen);
      else notebook.observed.push({ input: drive.input, observation: seen });
    } catch (error) {
      notebook.failure = messageOf(error);
    }
  }
}

/**
 * One result a rule, in the order of the rules; those that join the evidence of others are judged last and told what the
 * others said. Where a rule found channels that contradict each other, the results of the other rules that read them lose
 * confidence and say why; no outcome changes.
 */
export function judge(notebooks: readonly Notebook[], vehicle: Vehicle): Result[] {
  const contradicted: (Contradicted & { readonly by: string })[] = [];
  const results = new Map<Notebook, Result>();
  const told = new Map<string, OtherResult>();
  for (const notebook of notebooks) {
    if (notebook.rule.joins === true) continue;
    const result = judgeOne(notebook, vehicle, contradicted);
    results.set(notebook, result);
    told.set(notebook.rule.id, otherOf(result));
  }
  for (const notebook of notebooks)
    if (notebook.rule.joins === true) results.set(notebook, judgeOne(notebook, vehicle, contradicted, told));
  return notebooks.map((notebook) => {
    const result = results.get(notebook)!;
    const { needs } = notebook.rule;
    const read = new Set([...needs.channels, ...needs.optional].map(familyOf));
    const own = contradicted.filter(({ by, channel }) => by !== result.rule && read.has(familyOf(channel)));
    return own.length === 0 ? result : lessSure(result, own);
  });
}

function otherOf(result: Result): OtherResult {
  const { outcome, summary } = result;
  if (outcome !== 'finding') return { outcome, summary };
  const cylinders = result.measures.cylinders?.value;
  return {
    outcome,
    summary,
    ...(result.severity === undefined ? {} : { severity: result.severity }),
    ...(typeof cylinders === 'object' ? { cylinders } : {}),
  };
}

function judgeOne(
  notebook: Notebook,
  vehicle: Vehicle,
  contradicted: (Contradicted & { readonly by: string })[],
  told?: ReadonlyMap<string, OtherResult>,
): Result {
  const { rule, observed, refusals } = notebook;
  const reason = rule.notApplicable?.(vehicle);
  if (reason !== undefined) return { rule: rule.id, summary: reason, outcome: 'not-applicable' };
  if (notebook.failure !== undefined) return failed(rule.id, notebook.failure);
  const unasked = observed.length === 0 ? rule.notApplicableUnshown?.(vehicle) : undefined;
  if (unasked !== undefined) return { rule: rule.id, summary: unasked, outcome: 'not-applicable' };
  if (observed.length === 0) return notShown(rule, nearest(refusals));
  try {
    const context = contextFor(rule, vehicle);
    const judgement = rule.judge(observed, told === undefined ? context : { ...context, results: told });
    for (const each of judgement.contradicted ?? []) contradicted.push({ ...each, by: rule.id });
    return toResult(rule, judgement);
  } catch (error) {
    return failed(rule.id, messageOf(error));
  }
}

function familyOf(id: string): string {
  return id.split('.')[0] ?? id;
}

/** The strongest of the doubts counts, all are told. */
function lessSure(result: Result, doubts: readonly Contradicted[]): Result {
  if (result.outcome !== 'clear' && result.outcome !== 'finding') return result;
  const factor = Math.min(...doubts.map((each) => each.factor));
  const notes = [...(result.notes ?? []), ...new Set(doubts.map(({ note }) => note))];
  return { ...result, confidence: result.confidence * factor, notes };
}

function failed(rule: string, error: string): Result {
  return { rule, summary: `The rule itself failed, so this was not checked: ${error}`, outcome: 'error', error };
}

function notShown(rule: Rule, refusal: Refusal | undefined): Result {
  // No recording at all: everything that the rule needs is missing.
  const missing: Missing = refusal?.missing ?? { channels: rule.needs.channels, conditions: rule.needs.conditions };
  const summary = refusal?.reason ?? 'No usable recording.';
  return { rule: rule.id, summary: sentence(summary), outcome: 'unproven', missing, proves: rule.proves };
}

function toResult(rule: Rule, judgement: Judgement): Result {
  const { summary, measures } = judgement;
  const extra = {
    ...(judgement.notes === undefined ? {} : { notes: judgement.notes }),
    ...(judgement.details === undefined ? {} : { details: judgement.details }),
  };
  switch (judgement.outcome) {
    case 'not-applicable':
      return { rule: rule.id, summary, outcome: 'not-applicable' };
    case 'unproven': {
      const { missing } = judgement;
      return {
        rule: rule.id,
        summary,
        outcome: 'unproven',
        missing,
        proves: rule.proves,
        measures,
        events: judgement.events ?? [],
        ...extra,
      };
    }
    case 'clear':
      return {
        rule: rule.id,
        summary,
        outcome: 'clear',
        confidence: judgement.confidence,
        measures,
        events: judgement.events ?? [],
        limits: judgement.limits ?? [],
        ...extra,
      };
    case 'finding':
      return {
        rule: rule.id,
        summary,
        outcome: 'finding',
        severity: judgement.severity,
        confidence: judgement.confidence,
        measures,
        events: judgement.events ?? [],
        limits: judgement.limits ?? [],
        causes: judgement.causes,
        advice: judgement.advice,
        ...extra,
      };
  }
}

function sentence(text: string): string {
  const trimmed = text.trim();
  const first = trimmed.charAt(0).toUpperCase() + trimmed.slice(1);
  return /[.!?]$/.test(first) ? first : `${first}.`;
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
