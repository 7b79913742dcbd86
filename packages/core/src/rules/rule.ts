import type { Missing, Recipe, Refusal } from '../derived/recipe.js';
import type { Channel } from '../recording/recording.js';
import type { Vehicle } from '../vehicle/vehicle.js';

export type System =
  | 'usage'
  | 'transmission'
  | 'driveline'
  | 'engine'
  | 'fuel'
  | 'air'
  | 'exhaust'
  | 'electrical'
  | 'codes'
  | 'provenance';

export type Severity = 'watch' | 'repair' | 'stop';

/** A number never travels without its unit; counts leave the unit out; a list (cylinder numbers) is ascending. */
export interface Measure {
  readonly value: number | readonly number[];
  readonly unit?: string;
}

/** One stretch of one recording that carries the evidence. Further measured values stand beside `peak`. */
export interface RuleEvent {
  readonly input: number;
  /** Seconds of recording time. */
  readonly from: number;
  readonly to: number;
  readonly severity?: Severity;
  readonly peak?: Measure;
  readonly [measure: string]: Measure | number | string | undefined;
}

/** A limit as the rule states it: once, here. Everything printed about it is rendered from this object. */
export interface LimitDefinition {
  /** `watch`, `repair`, `stop`, or a further name; the key under which a profile overrides it. */
  readonly name: string;
  readonly value: number;
  readonly unit: string;
  /** A finding when `measured comparison value` holds. */
  readonly comparison: '>' | '>=' | '<' | '<=';
  /** Publication and clause, or `common practice, no source`, or `derived: …`, or `from memory: …`. */
  readonly source: string;
  /** What is compared, e.g. `sump temperature, dual clutch`. */
  readonly about: string;
  /** Variant: all of these must hold for the limit to be the one that counts, e.g. {place: 'sump', kind: 'converter'}. */
  readonly when?: Readonly<Record<string, string>>;
}

/** A limit as it counted in one assessment; `source` is `profile` when the user overrode it. */
export interface Limit {
  readonly name: string;
  readonly value: number;
  readonly unit: string;
  readonly comparison: '>' | '>=' | '<' | '<=';
  readonly source: string;
  readonly about: string;
}

/** What a rule may read. Naming anything else is a type error, and refused at run time as well. */
export interface Needs<
  C extends string = string,
  O extends string = string,
  R extends readonly Recipe<unknown>[] = readonly Recipe<unknown>[],
> {
  /** All of these must be there, or the engine answers `unproven`. A family name asks for any member. */
  readonly channels: readonly C[];
  /** Used when there. */
  readonly optional: readonly O[];
  /** Optional channels that stand in for a needed one. */
  readonly instead?: Readonly<Partial<Record<C, NoInfer<O>>>>;
  /** Derived knowledge that the rule reads. A refusal of one is the rule's to handle. */
  readonly derived: R;
  /** Driving conditions in words, for `plan`, `rules` and the docs. */
  readonly conditions: readonly string[];
}

/** The narrowed drive that a rule sees. */
export interface View<
  C extends string = string,
  O extends string = string,
  R extends readonly Recipe<unknown>[] = readonly Recipe<unknown>[],
> {
  readonly input: number;
  readonly time: Float64Array;
  /** Seconds from first to last row. */
  readonly duration: number;
  readonly vehicle: Vehicle;
  /** A needed channel: always there. */
  channel(id: C): Channel;
  optional(id: C | O): Channel | undefined;
  family(base: C | O): readonly Channel[];
  derive<T>(recipe: R[number] & Recipe<T>): T | Refusal;
}

export interface Context {
  readonly vehicle: Vehicle;
  /** The limits of the given variant, by name, with the profile's overrides applied. */
  limits(variant?: Readonly<Record<string, string>>): Readonly<Record<string, Limit>>;
  /** Outcomes of the rules judged before, by id; only for a rule that `joins`. A rule that was not run is absent. */
  readonly results?: ReadonlyMap<string, OtherResult>;
}

/** What a joining rule is told of another one. */
export interface OtherResult {
  readonly outcome: 'clear' | 'finding' | 'unproven' | 'not-applicable' | 'error';
  readonly severity?: Severity;
  readonly summary: string;
  /** Cylinders that a finding names, ascending; absent when it names none. */
  readonly cylinders?: readonly number[];
}

export interface Observed<O> {
  readonly input: number;
  readonly observation: O;
}

/** A channel that another contradicts: what was read from it is less sure. */
export interface Contradicted {
  /** Id, or family. */
  readonly channel: string;
  /** 0..1, multiplies the confidence of each result whose rule reads the channel. */
  readonly factor: number;
  /** Note beside such a result. */
  readonly note: string;
}

interface JudgementBase {
  /** One or two sentences in a practitioner's words, with the measured value and the limit. */
  readonly summary: string;
  readonly measures: Readonly<Record<string, Measure>>;
  readonly events?: readonly RuleEvent[];
  /** The limits that counted. */
  readonly limits?: readonly Limit[];
  /** What was assumed, e.g. "kind of transmission unknown: dual-clutch limits used". */
  readonly notes?: readonly string[];
  /** Larger results for reports (maps, tables); plain JSON data. */
  readonly details?: Readonly<Record<string, unknown>>;
  /** Channels that contradict each other: other results that rest on them lose confidence, and nothing else. */
  readonly contradicted?: readonly Contradicted[];
}

export type Judgement =
  | (JudgementBase & { readonly outcome: 'clear'; readonly confidence: number })
  | (JudgementBase & {
      readonly outcome: 'finding';
      readonly severity: Severity;
      readonly confidence: number;
      /** Likely first. */
      readonly causes: readonly string[];
      /** What to do next, cheapest test first. */
      readonly advice: readonly string[];
    })
  | (JudgementBase & { readonly outcome: 'unproven'; readonly missing: Missing })
  | (JudgementBase & { readonly outcome: 'not-applicable' });

/**
 * One question that a practitioner asks, in one frozen object in one file (`rules/<system>/<topic>.ts`).
 * `observe` measures one drive; `judge` weighs what all drives of the car showed. The engine, not the rule, answers
 * `unproven` when needs are not met in any drive, and turns an exception into an `error` result.
 */
export interface Rule<
  Obs = unknown,
  C extends string = string,
  O extends string = string,
  R extends readonly Recipe<unknown>[] = readonly Recipe<unknown>[],
> {
  /** `system.topic`, equal to the path of its file. */
  readonly id: string;
  readonly system: System;
  readonly question: string;
  readonly why: string;
  /** Weight in coverage and index: 3 = can end the car's engine or gearbox, 2 = costly, 1 = comfort or history. */
  readonly weight: 1 | 2 | 3;
  readonly needs: Needs<C, O, R>;
  readonly limits: readonly LimitDefinition[];
  /**
   * Looks at read-outs of control-unit memory (stored values, code lists) as well as at drives. A read-out has one row, so
   * a rule that is not made for it never sees one.
   */
  readonly readOuts?: true;
  /**
   * Judged after all rules without this mark, and told their outcomes through `context.results`: how a rule joins evidence
   * of others without importing them. Such rules do not see each other.
   */
  readonly joins?: true;
  /**
   * Asks for nothing that is over within a second: of a recording of 100 000 rows and more it sees the last value of each
   * tenth of a second. Peaks and counts of what comes and goes faster are not for such a rule.
   */
  readonly slow?: true;
  /** How it decides, in a few sentences, without digits that stand in `limits`. */
  readonly method: string;
  /** What must not fool it, and how each is told apart. */
  readonly decoys: readonly string[];
  readonly cautions: readonly string[];
  /** The driving phase or read-out that settles it when it is unproven. */
  readonly proves: string;
  /** Why the question makes no sense for this car, or undefined when it does. */
  readonly notApplicable?: (vehicle: Vehicle) => string | undefined;
  /** Why the question makes no sense for this car while none of its drives holds what the rule needs. */
  readonly notApplicableUnshown?: (vehicle: Vehicle) => string | undefined;
  readonly observe: (view: View<C, O, R>, context: Context) => Obs | Refusal;
  readonly judge: (observed: readonly Observed<Obs>[], context: Context) => Judgement;
}

/**
 * Checks a rule against its own types, so that reading an undeclared channel is a type error, then freezes it. What it
 * observes is its own business from here on: the engine hands each observation back to the rule that made it.
 */
export function defineRule<
  Obs,
  const C extends string,
  const O extends string,
  const R extends readonly Recipe<unknown>[],
>(rule: Rule<Obs, C, O, R>): Rule {
  return Object.freeze(rule) as unknown as Rule;
}
