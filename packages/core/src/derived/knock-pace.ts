import { quantile } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { isSparse, sampleSpacing } from './refresh.js';

export interface Pace {
  /** Fresh retard values per second (Hz). */
  readonly rate: number;
  /** False when it is the rate of other channels, because the retard itself does not tell. */
  readonly certain: boolean;
}

/** Fewer changes than this tell nothing. */
const CHANGES = 6;

/**
 * How often a knock retard is measured anew. It is 0 for minutes and then moves for a second, so the spacing of its
 * changes says how often the engine knocks rather than how often the unit is read. Three witnesses, in this order:
 * filled cells of a column with empty ones; changes at one regular spacing (a slow channel that moves with each reading);
 * else the closest changes, which the refresh cannot be slower than, or the rate of `others`, whichever is faster.
 * @param others Hz of a channel that moves all the time, NaN when unknown
 */
export function knockPace(family: readonly Channel[], time: Float64Array, others: number): Pace {
  let regular = Number.NaN;
  let proven = Number.NaN;
  for (const { values, quality } of family) {
    const full = quality.samples === values.length;
    if (full && quality.constant) continue;
    if (!full && isSparse(values)) {
      const spacing = sampleSpacing(values, time);
      if (spacing > 0) return { rate: 1 / spacing, certain: true };
    }
    const { spacings, coarse } = changesOf(values, time, quality.quantum);
    if (spacings.length < CHANGES) continue;
    // A clock that jitters makes some spacings too short: the lower quartile is not fooled.
    const close = quantile(spacings, 0.25);
    const rate = 1 / close;
    const alike = spacings.filter((s) => s > 0.7 * close && s < 1.3 * close).length;
    // Single steps down are a ramp back in quanta, whose pace is that of the ramp.
    if (alike >= 0.7 * spacings.length && coarse >= 0.5 && !(regular >= rate)) regular = rate;
    if (!(proven >= rate)) proven = rate;
  }
  if (regular > 0 && proven <= 1.3 * regular) return { rate: regular, certain: true };
  if (proven >= others || !(others > 0)) return { rate: proven, certain: proven > 0 };
  return { rate: others, certain: false };
}

/** Seconds between changes, and the share of changes by more than one quantum. */
function changesOf(
  values: Float64Array,
  time: Float64Array,
  quantum: number,
): { spacings: Float64Array; coarse: number } {
  const spacings: number[] = [];
  let last = Number.NaN;
  let at = Number.NaN;
  let changes = 0;
  let coarse = 0;
  for (let i = 0; i < values.length; i++) {
    const v = values[i]!;
    if (Number.isNaN(v)) continue;
    if (v !== last && !Number.isNaN(last)) {
      changes++;
      if (Math.abs(v - last) > 1.5 * quantum) coarse++;
      if (!Number.isNaN(at)) spacings.push(time[i]! - at);
      at = time[i]!;
    }
    last = v;
  }
  return { spacings: Float64Array.from(spacings), coarse: coarse / Math.max(1, changes) };
}
