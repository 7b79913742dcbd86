import type { TroubleCode } from '../codes/structure.js';
import type { Problem } from './problem.js';

/** One value of a read-out as it stands in the file: before channel, unit and sentinel are judged. */
export interface RawReading {
  /** As written, trimmed. */
  readonly name: string;
  /** Value cell as written, without its unit. */
  readonly text: string;
  /** NaN when the value is no number. */
  readonly value: number;
  /** As written; '' when none is given. */
  readonly unit: string;
  /** Lowest and highest permitted value, where the row gives them (monitor results); NaN when it does not. */
  readonly low: number;
  readonly high: number;
  /** Control unit that it was read from, as written; '' when none is named. */
  readonly module: string;
  /** Physical line, from 1. */
  readonly line: number;
}

/** `stored` = confirmed; `pending` = seen once, not yet confirmed; `permanent` = cannot be cleared with a tool; `past` = kept as history. */
export type CodeStatus = 'stored' | 'pending' | 'permanent' | 'past';

/** One trouble code as it stands in the file. */
export interface RawCode {
  readonly code: TroubleCode;
  /** In the order of {@link CodeStatus}; several when the source says so. */
  readonly statuses: readonly CodeStatus[];
  /** The file does not say the status: `stored` was taken. */
  readonly assumed: boolean;
  readonly module: string;
  /** The source's own words for the code, '' when there are none. Data, never trusted. */
  readonly text: string;
  /** Values that were stored with the code. */
  readonly frame: readonly RawReading[];
  readonly line: number;
}

/** What a read-out of control-unit memory holds: stored values or a code list. */
export interface RawReadOut {
  readonly kind: 'stored-values' | 'code-list';
  readonly rows: number;
  readonly readings: readonly RawReading[];
  readonly codes: readonly RawCode[];
  readonly problems: readonly Problem[];
}
