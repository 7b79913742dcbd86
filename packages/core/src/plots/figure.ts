import type { Severity } from '../rules/rule.js';

/** One line of a panel. Plain data: a page, a terminal or another program draws it. */
export interface Trace {
  /** Channel id, or what it was derived as. */
  readonly id: string;
  /** In words. */
  readonly name: string;
  /** A state that holds until the next sample is drawn in steps. */
  readonly drawn: 'line' | 'steps';
  /** In the panel's unit, one a point of the figure's `time`; null = no sample there. */
  readonly values: readonly (number | null)[];
  /** Seconds without a sample up to which the line goes on: beyond, nobody knows what was between. */
  readonly bridge: number;
  /** Words of a state by its value, where it has words. */
  readonly states?: Readonly<Record<string, string>>;
}

/** A limit that the evidence was held against, as a level line. */
export interface LimitLine {
  readonly name: string;
  readonly value: number;
  readonly source: string;
}

/** Traces of one unit over one axis. */
export interface Panel {
  readonly unit: string;
  readonly traces: readonly Trace[];
  readonly limits: readonly LimitLine[];
}

/** A stretch of the recording that carries evidence. */
export interface Mark {
  readonly from: number;
  readonly to: number;
  readonly rule: string;
  readonly severity: Severity;
  /** Id of the figure that shows it closely; absent where none does. */
  readonly figure?: string;
}

/** Panels below each other over one stretch of one recording. */
export interface Figure {
  /** Letters, digits and `-`: an anchor. */
  readonly id: string;
  readonly title: string;
  /** Index of the input. */
  readonly input: number;
  /** What `time` counts, in words, when it is not seconds of recording time. */
  readonly origin?: string;
  /** Seconds, ascending. */
  readonly time: readonly number[];
  /**
   * Seconds that two neighbouring points stand for where the rows were thinned: the least and the greatest value of each
   * such stretch are kept. 0 = every row is there.
   */
  readonly step: number;
  readonly panels: readonly Panel[];
  readonly marks: readonly Mark[];
}
