import type { Amount } from '../decision/prices.js';
import type { Missing } from '../derived/recipe.js';
import type { InputFault, Problem } from '../recording/problem.js';
import type { Dialect } from '../recording/raw.js';
import type { Certainty, ColumnReport } from '../recording/recording.js';
import type { Limit, Measure, RuleEvent, Severity, System } from '../rules/rule.js';
import type { Seen } from '../sheet/point.js';

/** The documents of this file are the contract: field order here is field order in the JSON. */
export interface Assessment {
  readonly schema: 'telltale/assessment@1';
  readonly vehicle: { readonly id: string };
  readonly inputs: readonly InputReport[];
  readonly verdict: Verdict;
  readonly systems: readonly SystemVerdict[];
  readonly results: readonly Result[];
  /** What several rules say together, and which test comes next; absent where nothing joins. */
  readonly chains?: readonly Chain[];
  /** Points of the walk-round sheet that somebody looked at; absent without a sheet. */
  readonly seen?: readonly Seen[];
  /** What a buyer does next. */
  readonly decision: Decision;
  readonly cautions: readonly string[];
}

export type InputKind = 'recording' | 'stored-values' | 'code-list' | 'unusable';

export interface InputReport {
  /** Base name only, never a path. */
  readonly file: string;
  readonly sha256: string;
  readonly kind: InputKind;
  readonly rows?: number;
  readonly duration?: { readonly value: number; readonly unit: string };
  /** Distance by the speed channel. */
  readonly distance?: { readonly value: number; readonly unit: string };
  readonly dialect?: Dialect;
  readonly channels: readonly ChannelReport[];
  readonly unrecognised: readonly string[];
  readonly problems: readonly Problem[];
  readonly error?: InputFault;
}

export interface ChannelReport {
  readonly id: string;
  readonly source: string;
  readonly sourceUnit: string;
  readonly unit: string;
  readonly rate: { readonly value: number; readonly unit: string } | null;
  readonly certainty: Certainty;
  readonly place?: string;
  readonly samples: number;
  readonly range: { readonly low: number; readonly high: number } | null;
}

export type Level = 'sound' | 'watch' | 'repair' | 'stop' | 'unproven';

export interface Verdict {
  readonly level: Level;
  /** 0..1: weight of clear + finding over weight of applicable rules. */
  readonly coverage: number;
  /** 0 (worst) .. 100 (as new); the width is what was not shown. */
  readonly index: { readonly low: number; readonly high: number };
  /** Why the level is what it is, the weightiest first. */
  readonly reasons: readonly string[];
}

/** Suspects of one problem, ranked by the evidence of several rules, and the tests that part them, cheapest first. */
export interface Chain {
  readonly id: string;
  readonly problem: string;
  readonly suspects: readonly { readonly cause: string; readonly signs: readonly ChainSign[] }[];
  readonly tests: readonly { readonly test: string; readonly tells: string }[];
}

export interface ChainSign {
  readonly rule: string;
  readonly says: string;
  readonly speaks: 'for' | 'against';
}

export interface SystemVerdict {
  readonly id: System;
  readonly level: Level;
  readonly coverage: number;
}

export type Action = 'walk-away' | 'negotiate' | 'buy' | 'record-more';

/** What the buyer does next, why, and what to ask; field order here is field order in the JSON. */
export interface Decision {
  readonly action: Action;
  /** In order of weight. */
  readonly reasons: readonly string[];
  /** For the seller. */
  readonly questions: readonly { readonly about: string; readonly question: string }[];
  /** What the findings justify by the user's own prices. */
  readonly sum?: {
    readonly low: number;
    readonly high: number;
    readonly currency: string;
    readonly items: readonly ({ readonly about: string } & Amount)[];
    /** Findings without a price in the list. */
    readonly unpriced: readonly string[];
  };
}

interface ResultBase {
  readonly rule: string;
  readonly summary: string;
}

export type Result =
  | (ResultBase & {
      readonly outcome: 'clear' | 'finding';
      readonly severity?: Severity;
      readonly confidence: number;
      readonly measures: Readonly<Record<string, Measure>>;
      readonly events: readonly RuleEvent[];
      readonly limits: readonly Limit[];
      readonly causes?: readonly string[];
      readonly advice?: readonly string[];
      readonly notes?: readonly string[];
      readonly details?: Readonly<Record<string, unknown>>;
    })
  | (ResultBase & {
      readonly outcome: 'unproven';
      readonly missing: Missing;
      /** The driving phase or read-out that would settle it. */
      readonly proves: string;
      readonly measures?: Readonly<Record<string, Measure>>;
      readonly events?: readonly RuleEvent[];
      readonly notes?: readonly string[];
    })
  | (ResultBase & { readonly outcome: 'not-applicable' })
  | (ResultBase & { readonly outcome: 'error'; readonly error: string });

/** What `columns` shows of one input. */
export interface ColumnsReport {
  readonly schema: 'telltale/columns@1';
  readonly input: InputReport;
  readonly columns: readonly ColumnReport[];
}
