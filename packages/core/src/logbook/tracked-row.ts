import type { Covariates, NoteKind, TrackedMeasure } from './entry.js';

/** A family of tracked measures as the catalogue states it; `*` stands for what the rule appends (bank, fluid, pair). */
export interface TrackedRow {
  /** Rule whose result carries the measure. */
  readonly rule: string;
  /** Name of the measure in the result, with at most one `*` at its end. */
  readonly measure: string;
  /** In words; `*` is replaced by what the star stood for. */
  readonly name: string;
  /** Catalogue unit; `1` for a ratio. */
  readonly unit: string;
  readonly worse: TrackedMeasure['worse'];
  /** Name of the rule's limit that the drift runs towards; absent = the rule has none for it. */
  readonly limit?: string;
  readonly rebaselinedBy?: readonly NoteKind[];
  readonly movedBy?: readonly (keyof Covariates)[];
}

/** Outside air, and how much of it there is. */
export const AIR = ['ambientTemperature', 'altitude'] as const;
/** Work after which the mixture is learned anew. */
export const MIXTURE = ['software', 'relearn', 'repair'] as const;
/** Work after which clutches are learned anew. */
export const CLUTCH = ['fluid', 'software', 'relearn', 'repair'] as const;
