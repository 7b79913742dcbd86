import { exceeds } from '../../derived/exceeds.js';
import { confidenceOf } from '../confidence.js';
import type { Judgement, Limit } from '../rule.js';
import { figure } from '../wording.js';
import type { SensorReading } from './lambda-sensor-reading.js';

/** Samples that a correlation over a drive is worth at least: it is refused with less. */
const SAMPLES = 30;

/**
 * A sensor that follows the target later than so many times the one of the other bank, with what it is found by;
 * undefined when fewer than two delays are known, or when they agree within their uncertainty.
 */
export function lateBank(
  all: readonly SensorReading[],
  apart: Limit,
  least: Limit,
  spoken: (id: string) => string,
): Pick<Judgement & { outcome: 'finding' }, 'summary' | 'confidence'> | undefined {
  const known = all.filter(({ lag, lagU }) => !Number.isNaN(lag) && !Number.isNaN(lagU));
  if (known.length < 2) return undefined;
  const slow = known.reduce((a, b) => (b.lag > a.lag ? b : a));
  const quick = known.reduce((a, b) => (b.lag < a.lag ? b : a));
  // As for the cuts: what one takes beyond so many times the other (Fieller 1954, from memory).
  const more = slow.lag - apart.value * Math.max(0, quick.lag);
  const u = Math.hypot(slow.lagU, apart.value * quick.lagU);
  if (exceeds(more, u, 0, apart.comparison) !== 'beyond') return undefined;
  if (exceeds(slow.lag, slow.lagU, least.value, least.comparison) !== 'beyond') return undefined;
  return {
    summary: `In closed loop ${spoken(slow.id)} follows its target ${figure(slow.lag, 2)} s late, ${spoken(quick.id)} ${figure(quick.lag, 2)} s (limit ${figure(apart.value)} times the other bank, from ${figure(least.value)} s on).`,
    confidence: confidenceOf({
      margin: more,
      uncertainty: u,
      samples: SAMPLES,
      channels: [slow.channel, quick.channel],
    }),
  };
}
