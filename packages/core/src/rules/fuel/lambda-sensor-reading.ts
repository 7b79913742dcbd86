import type { Channel } from '../../recording/recording.js';

export interface SensorReading {
  readonly id: string;
  readonly channel: Channel;
  /** Seconds of each cut. */
  readonly times: readonly number[];
  readonly response: number;
  readonly u: number;
  /** Median time from the first rise until air, s: the least that the answer to a cut can take; and its uncertainty. */
  readonly rise: number;
  readonly riseU: number;
  /** The beginning of the cut was not recorded: `response` runs from the pedal and is the most that it can be. */
  readonly assumed: boolean;
  /** It mostly read lean in the first row of the cut: quicker than the log shows, `response` is the most that it can be. */
  readonly quick: boolean;
  readonly hz: number;
  /** Delay behind the target in closed loop, s, and its standard uncertainty; NaN when not known. */
  readonly lag: number;
  readonly lagU: number;
  readonly ends: boolean;
  readonly first: number;
}

export interface SensorObservation {
  readonly readings: readonly SensorReading[];
  /** Fresh values a second that it takes. */
  readonly rate: number;
}
