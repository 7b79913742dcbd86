/**
 * Something about an input that a reader has to know: a doubt, a repair that was made, samples that were set aside.
 * Problems are data and never stop the run; what stops an input is an {@link InputFault}.
 */
export interface Problem {
  /** Stable code, kebab-case, listed in the generated error catalogue. */
  readonly code: string;
  /** One sentence: what was found, what was expected, how to mend. Never holds preamble text. */
  readonly message: string;
  /** Physical line of the file, counted from 1. */
  readonly line?: number;
  /** Column of the table, counted from 1. */
  readonly column?: number;
  /** Channel id that it concerns. */
  readonly channel?: string;
  /** Seconds of recording time. */
  readonly from?: number;
  readonly to?: number;
  /** How many samples, rows or cells. */
  readonly count?: number;
}

/** Why an input cannot be used at all. `code` is stable and listed in the error catalogue. */
export interface InputFault {
  readonly code: string;
  readonly message: string;
  readonly line?: number;
  readonly column?: number;
}
