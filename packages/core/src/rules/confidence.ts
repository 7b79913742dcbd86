import { errorFunction } from 'simple-statistics';
import type { Certainty, Channel } from '../recording/recording.js';

/** What a confidence is made of; each part is 0..1 and they multiply. */
export interface Support {
  /** Measured value minus limit, positive when the value is on the side that the outcome states; in the channel's unit. */
  readonly margin: number;
  /** Standard uncertainty of the measured value (JCGM 100), same unit. */
  readonly uncertainty: number;
  /** Independent (fresh) samples behind the value. */
  readonly samples: number;
  /** Channels that were read. */
  readonly channels: readonly Pick<Channel, 'certainty'>[];
  /** Further doubts, each 0..1, e.g. the kind of transmission had to be assumed. */
  readonly doubts?: readonly number[];
}

/** Nothing that a recording shows is certain: cables, sensors and tables of other people stand in between. */
const MOST = 0.99;

/** How far a reading of a column is trusted. Common practice, no source: our own scale, the same for every rule. */
const TRUST: Readonly<Record<Certainty, number>> = { certain: 1, user: 1, likely: 0.95, inferred: 0.85 };

/**
 * NaN margin or no samples give 0. Confidence that an outcome is right, 0..1:
 * Phi(margin / uncertainty) x n / (n + 1) x trust of the least certain channel x doubts, at most 0.99.
 * Phi is the normal distribution function: the probability that the true value lies on the stated side of the limit
 * (JCGM 106:2012, 7.2, from memory). n / (n + 1) is the rule of succession for n samples that all agreed (Laplace).
 */
export function confidenceOf(support: Support): number {
  const { margin, uncertainty, samples, channels, doubts = [] } = support;
  if (!(samples > 0) || Number.isNaN(margin)) return 0;
  let confidence = (uncertainty > 0 ? phi(margin / uncertainty) : margin >= 0 ? 1 : 0) * (samples / (samples + 1));
  let trust = 1;
  for (const { certainty } of channels) trust = Math.min(trust, TRUST[certainty]);
  confidence *= trust;
  for (const doubt of doubts) confidence *= doubt;
  return Math.min(MOST, Math.max(0, confidence));
}

/** Normal distribution function; NaN stays NaN. */
function phi(z: number): number {
  return 0.5 * (1 + errorFunction(z / Math.SQRT2));
}
