import type { Place } from '../channels/place.js';
import type { Certainty } from './certainty.js';
import type { Problem } from './problem.js';
import type { Dialect } from './raw.js';
import type { ReadOut } from './read-out.js';

export type { Certainty, Place };

export interface Interval {
  /** Seconds of recording time, inclusive. */
  readonly from: number;
  readonly to: number;
}

/** What the samples of one channel are worth as evidence. */
export interface Quality {
  /**
   * Fresh values per second (Hz): typical spacing of changes while the channel is moving, not of rows. NaN when the
   * channel never changes, or creeps one step at a time and so does not tell; then `groupRate` stands in, at lower
   * confidence. See {@link freshRate}.
   */
  readonly rate: number;
  /** Rate of the channels with the same cadence (Hz), NaN when nothing moves. */
  readonly groupRate: number;
  /**
   * Smallest step between two different values, in the channel's unit, and no more than the coarsest that the standard's
   * scaling allows (a trim that was learned in two levels does not resolve their distance); 0 when it never changes.
   */
  readonly quantum: number;
  /** Usable samples after cleaning. */
  readonly samples: number;
  /** Samples set aside, by reason; they are NaN in `values`. */
  readonly removed: {
    readonly sentinel: number;
    readonly implausible: number;
    readonly spike: number;
    readonly frozen?: number;
  };
  /** Stretches in which the channel stood still while it should have moved; all but their first sample are set aside. */
  readonly frozen: readonly Interval[];
  /** Stretches at the end of the sensor's or the format's range. Their samples stay in `values`: they are a bound. */
  readonly saturated: readonly Interval[];
  /** Seconds at which a fluid temperature leaps to another level and stays there: one side of each is not true. */
  readonly leaps?: readonly number[];
  /** Never changes in the whole recording. */
  readonly constant: boolean;
  /** Least and greatest sample, where cleaning has met them; they are looked for where it has not. */
  readonly range?: { readonly low: number; readonly high: number };
}

/** One recognised channel on the recording's time base. */
export interface Channel {
  /** `fuelTrimLong.bank1` */
  readonly id: string;
  /** Catalogue unit of the channel. */
  readonly unit: string;
  /** In `unit`; NaN = no sample. Same length as the recording's `time`. Never mutate. */
  readonly values: Float64Array;
  /** Column label as written, and the unit it was read in (`''` when the channel has none). */
  readonly source: string;
  readonly sourceUnit: string;
  readonly certainty: Certainty;
  readonly place?: Place;
  readonly quality: Quality;
}

/** How one column of the file was understood; shown by `columns`. */
export interface ColumnReport {
  readonly index: number;
  readonly label: string;
  readonly channel?: string;
  readonly unit?: string;
  readonly sourceUnit?: string;
  readonly certainty?: Certainty;
  /** Why it was read so, or why not; one sentence. */
  readonly reason: string;
  /** Doubts and the line to put into a map file to mend each. */
  readonly doubts: readonly string[];
}

/** Named channels over one time base. */
export interface Recording {
  /** Seconds from the first row, strictly increasing. */
  readonly time: Float64Array;
  readonly rows: number;
  /** Seconds from first to last row. */
  readonly duration: number;
  /** Seconds from 1970-01-01 to the first row, where the stamps hold a date, in their own zone. Never part of a result. */
  readonly startedAt?: number;
  readonly dialect: Dialect;
  readonly channels: ReadonlyMap<string, Channel>;
  readonly columns: readonly ColumnReport[];
  /** Labels of columns that were not recognised with confidence. */
  readonly unrecognised: readonly string[];
  readonly problems: readonly Problem[];
  /** Present when this is no drive but a read-out of control-unit memory: one row, its channels are stored values. */
  readonly readOut?: ReadOut;
}
