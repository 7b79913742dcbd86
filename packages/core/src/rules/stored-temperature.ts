import { exceeds } from '../derived/exceeds.js';
import { lastValue } from '../derived/last-value.js';
import type { Certainty, Channel } from '../recording/recording.js';
import { confidenceOf } from './confidence.js';
import type { Limit, Severity } from './rule.js';
import { COUNTS, type StoredVerdict } from './stored-value.js';
import { figure } from './wording.js';

/** Standard uncertainty of a stored peak, K: whole degrees and a sensor within 2 K (common practice, no source). */
const STORED_UNCERTAINTY = Math.hypot(1 / Math.sqrt(12), 2 / Math.sqrt(3));
/** Ends of a byte of degC less 40, the usual coding: open or shorted sensor, or nothing kept. */
const ENDS = [-39, 214] as const;

/** Highest temperature that the control unit of one recording has kept, degC. */
export interface StoredPeak {
  readonly value: number;
  readonly certainty: Certainty;
}

/** Undefined without a channel or a sample. */
export function storedPeakOf(channel: Channel | undefined): StoredPeak | undefined {
  const value = lastValue(channel);
  return channel === undefined || Number.isNaN(value) ? undefined : { value, certainty: channel.certainty };
}

/** How a rule speaks of a stored peak. */
export interface PeakWords {
  /** `coolant temperature` */
  readonly what: string;
  readonly causes: readonly string[];
  readonly advice: readonly string[];
}

/**
 * What the highest of the stored peaks says against the limits of `severities`, each one step less than if it was seen.
 * Peaks at an end of the range are left out. `doubts` are factors on the confidence.
 */
export function storedTemperature(
  peaks: readonly StoredPeak[],
  limits: Readonly<Record<string, Limit>>,
  severities: readonly Severity[],
  words: PeakWords,
  doubts: readonly number[] = [],
): StoredVerdict {
  const believed = peaks.filter(({ value }) => value > ENDS[0] && value < ENDS[1]);
  const notes =
    believed.length < peaks.length ? [`A stored highest ${words.what} at an end of its range is left out.`] : [];
  if (believed.length === 0) return { measures: {}, notes };
  const top = believed.reduce((a, b) => (b.value > a.value ? b : a));
  const measures = { storedPeak: { value: top.value, unit: 'degC' } };
  let severity: Severity | undefined;
  for (const name of severities) {
    const { value, comparison } = limits[name]!;
    if (exceeds(top.value, STORED_UNCERTAINTY, value, comparison) === 'beyond') severity = name;
  }
  if (severity === undefined) return { measures, notes };
  const limit = limits[severity]!.value;
  return {
    measures,
    notes,
    finding: {
      severity: COUNTS[severity],
      confidence: confidenceOf({
        margin: top.value - limit,
        uncertainty: STORED_UNCERTAINTY,
        samples: 4,
        channels: [top],
        // The peak of a disturbed sensor is kept as well as that of heat.
        doubts: [0.8, ...doubts],
      }),
      summary: `The control unit has stored a highest ${words.what} of ${figure(top.value)} °C, beyond the ${severity} limit of ${figure(limit)} °C; when and for how long is not known.`,
      causes: words.causes,
      advice: words.advice,
    },
  };
}
