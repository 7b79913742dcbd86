import type { Channel, Recording } from '../recording/recording.js';
import type { Vehicle } from '../vehicle/vehicle.js';

/** What would have to be in the recording; shown to the user as it is. */
export interface Missing {
  /** Channel ids (or families, e.g. `knockRetard`). */
  readonly channels: readonly string[];
  /** Driving conditions in words, e.g. `warm idle >= 30 s`, or a rate, e.g. `engineSpeed at >= 5 Hz`. */
  readonly conditions: readonly string[];
}

/** A named "could not tell". Returned, never thrown. */
export interface Refusal {
  readonly refused: true;
  readonly missing: Missing;
  /** One clause: "no loadFraction, because engineLoad is absent". */
  readonly reason: string;
}

/** @param missing what would settle it; @param reason why it could not be told. */
export function refuse(reason: string, missing: Partial<Missing>): Refusal {
  return { refused: true, reason, missing: { channels: missing.channels ?? [], conditions: missing.conditions ?? [] } };
}

export function isRefusal(value: unknown): value is Refusal {
  return typeof value === 'object' && value !== null && (value as { refused?: unknown }).refused === true;
}

/** One recording, opened: logged channels by id, derived knowledge by recipe; each derived once, refusals remembered. */
export interface Drive {
  /** Index of the input it came from. */
  readonly input: number;
  readonly recording: Recording;
  readonly vehicle: Vehicle;
  /** Seconds, strictly increasing. */
  readonly time: Float64Array;
  /** A long recording in tenths of a second, for what does not need more (`engine/in-tenths.ts`); else the drive itself. */
  readonly slow: Drive;
  channel(id: string): Channel | undefined;
  /** All channels of a family in natural order: `knockRetard` -> knockRetard, knockRetard.cylinder1, … */
  family(base: string): readonly Channel[];
  derive<T>(recipe: Recipe<T>): T | Refusal;
}

/**
 * Derived knowledge: a signal, a set of segments, a list of events. `compute` must be pure: same drive, same answer.
 * Rules ask for recipes as they ask for channels, so that no two rules disagree on what a shift is.
 */
export interface Recipe<T> {
  readonly id: string;
  /** One sentence for the docs: what it is, by which formula, from which source. */
  readonly about: string;
  readonly compute: (drive: Drive) => T | Refusal;
}

export function recipe<T>(spec: Recipe<T>): Recipe<T> {
  return Object.freeze(spec);
}
