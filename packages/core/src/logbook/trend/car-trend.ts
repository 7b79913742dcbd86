import type { NoteKind, TrackedMeasure } from '../entry.js';
import type { Charts } from './charts.js';
import type { Forecast } from './forecast.js';

/**
 * `drifting`: getting worse steadily; `changed`: worse at once; `steady`: neither shown; `too few drives` and `not separable`
 * (weather and wear not separable yet): not judged.
 */
export type TrendState = 'drifting' | 'changed' | 'steady' | 'too few drives' | 'not separable';

/** A value and its 95 % interval. */
export interface Estimate {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** Evidence of a change beyond the alarm level, first in its baseline. */
export interface TrendAlarm {
  /** Look at which it fired, by place in {@link CarTrend.looks}, and the date of its last drive. */
  readonly look: number;
  readonly date: string;
  readonly direction: 'higher' | 'lower';
  /** ln of the Bayes factor of a change over none, and the level that it passed. */
  readonly evidence: number;
  readonly level: number;
  /** False when work has been done since that starts the measure anew. */
  readonly current: boolean;
  /** Whether the evidence still holds; an alarm that later drives took back stays in the list. */
  readonly stands: boolean;
}

/** What the present baseline most likely did; told only where an alarm stands. */
export interface TrendChange {
  readonly kind: 'drift' | 'step';
  readonly direction: 'higher' | 'lower';
  /** Belief, 0..1, that it is of this kind, given that there is a change. */
  readonly belief: number;
  /** Most likely date of its beginning, and a 95 % interval. */
  readonly onset: { readonly date: string; readonly earliest: string; readonly latest: string };
  /** Unit of the measure a year for a drift (upwards positive), the unit for a step. */
  readonly size: Estimate;
  /** A drift that went on through work that should have started the measure anew. */
  readonly through: boolean;
}

/** A stretch between two works that start the measure anew. */
export interface Baseline {
  readonly from: string;
  readonly looks: number;
  /** The note that started it; null for the first. */
  readonly because: { readonly kind: NoteKind; readonly date: string; readonly text: string } | null;
  /** Mean in mean weather, without drift taken off; and the jump from the baseline before. */
  readonly level: number;
  readonly jump: number | null;
}

/** One look at the measure, for a plot. */
export interface TrendPoint {
  readonly look: number;
  readonly date: string;
  /** km, h, or null where wear is counted in time. */
  readonly axis: number | null;
  readonly value: number;
  readonly standardError: number | null;
  /** The value in mean weather. */
  readonly adjusted: number;
  /** How much it counts, 1 = as an ordinary look, less for a stray one. */
  readonly weight: number;
  readonly baseline: number;
  /** Level by the most likely shape in mean weather, with its 95 % band; null in former baselines. */
  readonly fitted: Estimate | null;
}

/** What is still needed for an answer. */
export interface Needed {
  /** Further looks (one a month), at least; null where their number does not decide. */
  readonly looks: number | null;
  /** Date before which there will be no answer. */
  readonly until: string | null;
}

export interface MeasureTrend {
  readonly measure: TrackedMeasure;
  readonly state: TrendState;
  /** Why it is not judged; null where it is. */
  readonly reason: 'too few drives' | 'less than a year' | 'drift follows the season' | null;
  readonly needed: Needed | null;
  readonly drives: number;
  readonly looks: number;
  readonly baselines: readonly Baseline[];
  /** Weather that was fitted along, and what moves the measure but was not told. */
  readonly weather: { readonly fitted: readonly string[]; readonly unknown: readonly string[] };
  /** Correlation of the drift of the present baseline with the season. */
  readonly seasonCorrelation: number | null;
  /** ln of the Bayes factor of worse over no change, as of now. */
  readonly evidence: number | null;
  readonly alarms: readonly TrendAlarm[];
  readonly change: TrendChange | null;
  /** Joint fit of the whole present baseline, upwards positive: unit a year, and per 10,000 km or 100 h. */
  readonly slope: {
    readonly perYear: Estimate;
    readonly perUse: (Estimate & { readonly of: '10000 km' | '100 h' }) | null;
  } | null;
  /** Drift a year that would be found by now with a probability of four in five. */
  readonly detectable: number | null;
  /** Of the present baseline in mean weather; slope a year, null where there are too few looks for a bound. */
  readonly theilSen: { readonly value: number; readonly low: number | null; readonly high: number | null } | null;
  readonly mannKendall: {
    readonly s: number;
    readonly p: number;
    readonly tau: number;
    readonly exact: boolean;
    readonly prewhitened: boolean;
  } | null;
  readonly forecast: Forecast | null;
  readonly points: readonly TrendPoint[];
  /** Levels ahead, by the same belief as the forecast, for a plot. */
  readonly ahead: readonly { readonly date: string; readonly axis: number | null; readonly level: Estimate }[];
  readonly charts: Charts;
  /** One-sided p of the slope towards worse, and the same adjusted for the false-discovery rate: for ranking only. */
  readonly p: number | null;
  readonly q: number | null;
}

/** The trend of one car. */
export interface CarTrend {
  readonly car: string;
  readonly drives: number;
  /** Drives that are looked at as one: those within 20 days, with no work between. */
  readonly looks: readonly {
    readonly date: string;
    readonly drives: number;
    readonly axis: number | null;
    /** When its last drive was recorded, as the entry says it. */
    readonly lastDrive: string;
  }[];
  readonly axis: {
    readonly kind: 'distance' | 'engineHours' | 'time';
    readonly unit: 'km' | 'h' | null;
    readonly perYear: number | null;
    /** Readings of the counter that contradict the others and were left out. */
    readonly dropped: number;
  };
  /** Share of ownerships without drift that may alarm in three years; directions of all measures; ln Bayes factor. */
  readonly alarm: { readonly design: number; readonly tests: number; readonly level: number };
  /** Worst first. */
  readonly measures: readonly MeasureTrend[];
  /** Ids of measures in another unit than the catalogue's, and drives without a readable date: left out. */
  readonly otherUnits: readonly string[];
  readonly undated: number;
}
