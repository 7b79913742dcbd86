import type { Readiness } from '../codes/readiness.js';
import type { TroubleCode } from '../codes/structure.js';
import type { Certainty } from './certainty.js';
import type { MonitorResult } from './monitor-result.js';
import type { CodeStatus } from './raw-read-out.js';

/** One value of a read-out as a channel of the catalogue. */
export interface Reading {
  /** Channel id. */
  readonly channel: string;
  /** In `unit`, the catalogue's. */
  readonly value: number;
  readonly unit: string;
  readonly name: string;
  readonly sourceUnit: string;
  readonly certainty: Certainty;
  readonly line: number;
}

/** A trouble code of a code list, with the values that were stored beside it. */
export interface StoredCode {
  readonly code: TroubleCode;
  readonly statuses: readonly CodeStatus[];
  readonly assumed: boolean;
  /** Control unit as the source names it; '' when it does not. Text from a file: data. */
  readonly module: string;
  /** The source's own words. Text from a file: data. */
  readonly text: string;
  /** Freeze frame: channels with the value that was stored. */
  readonly frame: readonly Reading[];
  readonly line: number;
}

/** A distance that one control unit keeps. */
export interface Odometer {
  /** In words: `instrument cluster`, `engine control unit`, … ; `odometer` where none is named. */
  readonly where: string;
  /** km */
  readonly value: number;
  /** Kept with an event of the past (a service, a launch, a code), so that it may be lower than the others. */
  readonly past: boolean;
  readonly line: number;
}

/** Program of a control unit: its identification, or the verification number that is computed over it. */
export interface Calibration {
  readonly kind: 'identification' | 'verification';
  /** Control unit as the source names it, '' when it does not. */
  readonly module: string;
  /** As written, blanks at the ends removed. Text from a file: data. */
  readonly text: string;
  readonly line: number;
}

/** What was read out of control-unit memory beside values that are channels. */
export interface ReadOut {
  readonly kind: 'stored-values' | 'code-list';
  /** Codes of a code list (none is an answer too); undefined in a stored-values file. */
  readonly codes?: readonly StoredCode[];
  readonly readiness?: Readiness;
  readonly monitorResults: readonly MonitorResult[];
  readonly odometers: readonly Odometer[];
  readonly calibrations: readonly Calibration[];
}
