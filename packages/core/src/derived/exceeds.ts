import { ONE_SIDED_95 } from '../math/normal-quantile.js';
import type { Channel } from '../recording/recording.js';

export interface UncertaintyParts {
  /** Standard deviation of one fresh sample, in the channel's unit. */
  readonly noise?: number;
  /** Half-width of the sensor's tolerance, in the channel's unit; taken as rectangular. */
  readonly tolerance?: number;
  /** Time by which the channel may be late against the one it is compared with (s), standard uncertainty. */
  readonly lag?: number;
  /** Rate of change (unit per s) that the lag acts on. */
  readonly slope?: number;
  /** Fresh samples that the value is a mean or median of; divides noise and quantum only. */
  readonly fresh?: number;
}

/**
 * NaN in gives NaN out. Standard uncertainty of a value read from a channel, in its unit: root sum of squares of noise,
 * quantum / sqrt(12), tolerance / sqrt(3) and lag * |slope|. JCGM 100:2008 (GUM) 4.3.7, 5.1.2, F.2.2.1.
 * The quantum of a mean is not divided by more than 4: held at one step, its error does not average out.
 */
export function uncertaintyOf(channel: Pick<Channel, 'quality'>, parts: UncertaintyParts = {}): number {
  const { noise = 0, tolerance = 0, lag = 0, slope = 0, fresh = 1 } = parts;
  const count = Math.max(1, fresh);
  const quantum = channel.quality.quantum / Math.min(4, Math.sqrt(count));
  return Math.sqrt(
    (noise * noise) / count + (quantum * quantum) / 12 + (tolerance * tolerance) / 3 + (lag * slope) ** 2,
  );
}

/** `beyond` is the only ground for a finding; `near` is told as "near the limit". */
export type Exceedance = 'beyond' | 'near' | 'within';

/**
 * NaN value or limit throws RangeError (a value that could not be measured is `unproven`, never compared); NaN or
 * infinite uncertainty never gives `beyond`. Judges `value comparison limit` at the one-sided 95 % bound of a normal
 * distribution (JCGM 106:2012, guarded acceptance): `beyond` when the whole bound is beyond, `within` when the opposite
 * bound still is within, else `near`.
 * @param u standard uncertainty, same unit
 */
export function exceeds(value: number, u: number, limit: number, comparison: '>' | '>=' | '<' | '<='): Exceedance {
  if (Number.isNaN(value) || Number.isNaN(limit)) {
    throw new RangeError(`exceeds: compared ${value} with limit ${limit}, expected two numbers`);
  }
  if (!Number.isFinite(u)) return 'near';
  const sign = comparison === '>' || comparison === '>=' ? 1 : -1;
  const margin = sign * (value - limit);
  const reach = ONE_SIDED_95 * Math.abs(u);
  const strict = comparison === '>' || comparison === '<';
  const holdsAt = (m: number): boolean => (strict ? m > 0 : m >= 0);
  if (holdsAt(margin - reach)) return 'beyond';
  return holdsAt(margin + reach) ? 'near' : 'within';
}
