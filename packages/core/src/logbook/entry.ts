import type { Level } from '../engine/assessment.js';
import type { Severity } from '../rules/rule.js';

/** One measure of one drive. */
export interface MeasureValue {
  /** Id of the catalogue of tracked measures, e.g. `fuel.trim.idle.bank1`. */
  readonly id: string;
  readonly value: number;
  /** Standard error of the value within its drive, in its unit; null when not known. */
  readonly standardError: number | null;
  /** Independent samples behind it; null when not known. */
  readonly samples: number | null;
  readonly unit: string;
}

/** What surrounded the drive; null when not known. */
export interface Covariates {
  /** Air outside in degC. */
  readonly ambientTemperature: number | null;
  /** Mean load fraction, 0..1. */
  readonly load: number | null;
  /** Metres above sea level. */
  readonly altitude: number | null;
  /** Share of ethanol in the fuel, 0..1. */
  readonly fuel: number | null;
}

/** What the assessment of the drive said, in short; the recordings themselves are not kept. */
export interface DriveSummary {
  readonly level: Level;
  /** 0..1: weight of what was shown. */
  readonly coverage: number;
  readonly index: { readonly low: number; readonly high: number };
  /** Findings, the gravest first. */
  readonly findings: readonly { readonly rule: string; readonly severity: Severity; readonly summary: string }[];
  /** Rules that stayed open. */
  readonly unproven: readonly string[];
}

/** A stored drive. */
export interface LogbookEntry {
  /** SHA-256 of the recording, hexadecimal: the same file is kept once. */
  readonly hash: string;
  /** The user's own label of the car. */
  readonly car: string;
  /** ISO 8601 date, or date and time, when the drive was recorded. */
  readonly recordedAt: string;
  /** Odometer in km. */
  readonly distance: number | null;
  /** Running time of the engine over its life, in h. */
  readonly engineHours: number | null;
  /** Ascending by id. */
  readonly measures: readonly MeasureValue[];
  readonly covariates: Covariates;
  readonly summary: DriveSummary;
}

/**
 * Work on the car. `oil`: engine oil; `fluid`: transmission fluid; `software`: another program in a control unit;
 * `relearn`: adaptations taught anew; `service` and `repair`: other work, told in the text.
 */
export const NOTE_KINDS = [
  'service',
  'oil',
  'fluid',
  'coolant',
  'tyres',
  'battery',
  'software',
  'relearn',
  'repair',
  'other',
] as const;

export type NoteKind = (typeof NOTE_KINDS)[number];

/** What the owner wrote down. */
export interface LogbookNote {
  readonly car: string;
  /** ISO 8601 date. */
  readonly date: string;
  /** Odometer in km. */
  readonly distance: number | null;
  readonly kind: NoteKind;
  readonly text: string;
}

/** A measure that the logbook follows: what is worse, where it ends, and what starts it anew. */
export interface TrackedMeasure {
  readonly id: string;
  /** In a practitioner's words, e.g. `idle trim, bank 1`. */
  readonly name: string;
  readonly unit: string;
  /** Direction of wear; `either`: away from the middle, both ways. */
  readonly worse: 'higher' | 'lower' | 'either';
  /**
   * The least limit of the rule that judges the measure (for `either` held against the absolute value); null where no
   * rule has one.
   */
  readonly limit: { readonly value: number; readonly name: string; readonly source: string } | null;
  /** Notes after which the measure starts from a new baseline. */
  readonly rebaselinedBy: readonly NoteKind[];
  /** Covariates that are known to move the measure, for the joint fit. */
  readonly movedBy: readonly (keyof Covariates)[];
}
