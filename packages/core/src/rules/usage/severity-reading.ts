import type { Acceleration } from '../../derived/acceleration.js';
import { exceeds } from '../../derived/exceeds.js';
import type { Segment } from '../../derived/intervals.js';
import type { PedalRelative } from '../../derived/pedal-relative.js';
import { edgesUncertainty, maskedSeconds } from '../../derived/row-seconds.js';
import type { Speed } from '../../derived/speed.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import type { Limit } from '../rule.js';

/** A braking counts where its deceleration holds for this long (s) and this many fresh samples: no kerb, no pothole. */
const HOLD = 0.3;
const FRESH = 2;
/** Fresh accelerations per second at which brakings are counted: two within the second that a braking lasts. */
export const BRAKE_RATE = 2;
/** Below that, a braking of one second at the limit still is half of it over the two seconds between three samples. */
const BOUNDED_RATE = 1;

export interface HardBraking {
  readonly from: number;
  readonly to: number;
  /** m/s2 held, positive. */
  readonly deceleration: number;
  /** km/h as it began. */
  readonly speed: number;
  /** Beyond the limit at the lower 95 % bound; else within its uncertainty of it. */
  readonly sure: boolean;
}

/** What one drive shows of hard driving. NaN where it could not be told. */
export interface SeverityReading {
  /** s of movement, gaps left out. */
  readonly moving: number;
  readonly distance: number;
  /** s of movement at full pedal and high revs; the same by the pedal alone. */
  readonly hard: number;
  readonly floored: number;
  readonly uncertainty: number;
  /** False when the end of the pedal's travel was never seen, so that `floored` is a lower bound. */
  readonly pedalKnown: boolean;
  readonly brakings: readonly HardBraking[];
  /** Most hard brakings that there can have been; NaN below 1 Hz, where a braking fits between two samples. */
  readonly possible: number;
  /** Fresh values per second of the acceleration; NaN when there is none. */
  readonly brakeHz: number;
}

export interface SeverityInputs {
  readonly time: Float64Array;
  readonly seconds: Float64Array;
  readonly speed: Speed;
  readonly distance: number;
  readonly pedal: PedalRelative | undefined;
  readonly pedalHz: number;
  readonly engineSpeed: Float64Array | undefined;
  readonly revLimit: number | undefined;
  readonly acceleration: Acceleration | undefined;
  readonly brakings: readonly Segment[] | undefined;
  readonly limits: Readonly<Record<string, Limit>>;
}

export function readSeverity(inputs: SeverityInputs): SeverityReading {
  const { time, seconds, speed, pedal, engineSpeed, revLimit, limits, acceleration, brakings } = inputs;
  const rows = time.length;
  const moving = new Uint8Array(rows);
  const floored = new Uint8Array(rows);
  const hard = new Uint8Array(rows);
  const high = revLimit === undefined ? Number.NaN : (limits.engineSpeed!.value / 100) * revLimit;
  for (let i = 0; i < rows; i++) {
    if (!(speed.values[i]! >= speed.standing)) continue;
    moving[i] = 1;
    if (pedal === undefined || !(pedal.values[i]! >= limits.pedal!.value)) continue;
    floored[i] = 1;
    if (engineSpeed !== undefined && engineSpeed[i]! >= high) hard[i] = 1;
  }
  const sum = maskedSeconds(hard, seconds);
  const hardest =
    acceleration === undefined || brakings === undefined
      ? []
      : hardBrakings(time, speed, acceleration, brakings, limits.deceleration!);
  const unknown = engineSpeed === undefined || revLimit === undefined;
  return {
    moving: maskedSeconds(moving, seconds).total,
    distance: inputs.distance,
    hard: pedal === undefined || unknown ? Number.NaN : sum.total,
    floored: pedal === undefined ? Number.NaN : maskedSeconds(floored, seconds).total,
    uncertainty: edgesUncertainty(sum.stretches, 1 / inputs.pedalHz),
    pedalKnown: pedal?.fullSeen ?? false,
    brakings: hardest,
    possible: possibleBrakings(hardest.length, acceleration, limits.deceleration!),
    brakeHz: acceleration === undefined || brakings === undefined ? Number.NaN : acceleration.hz,
  };
}

function possibleBrakings(counted: number, acceleration: Acceleration | undefined, limit: Limit): number {
  if (acceleration === undefined || !(acceleration.hz >= 0.95 * BOUNDED_RATE)) return Number.NaN;
  const { values, u, hz } = acceleration;
  if (hz >= 0.95 * BRAKE_RATE) return counted;
  let count = 0;
  let inside = false;
  for (let i = 0; i < values.length; i++) {
    const maybe = -values[i]! > limit.value / 2 - ONE_SIDED_95 * u;
    if (maybe && !inside) count++;
    inside = maybe;
  }
  return count;
}

/** The hardest held deceleration of each braking that comes near the limit. */
function hardBrakings(
  time: Float64Array,
  speed: Speed,
  acceleration: Acceleration,
  brakings: readonly Segment[],
  limit: Limit,
): HardBraking[] {
  const { values, u, hz } = acceleration;
  const hold = Math.max(HOLD, (FRESH - 1) / hz);
  const found: HardBraking[] = [];
  for (const { from, to, start, end } of brakings) {
    let held = Number.NaN;
    let hardest = Number.NEGATIVE_INFINITY;
    for (let i = start; i <= end; i++) if (-values[i]! > hardest) hardest = -values[i]!;
    // What never comes near the limit holds no hard braking.
    if (exceeds(hardest, u, limit.value, limit.comparison) === 'within') continue;
    for (let i = start; i <= end; i++) {
      let low = Number.POSITIVE_INFINITY;
      let k = i;
      // A row that is no harder than what was held already is in no stretch that is harder.
      let weak = false;
      for (; k <= end && time[k]! - time[i]! <= hold + 1e-6 && !weak; k++) {
        weak = -values[k]! <= held;
        low = Math.min(low, -values[k]!);
      }
      if (weak) {
        i = k - 1;
        continue;
      }
      // NaN in it, or the braking ends sooner.
      if (Number.isNaN(low) || time[k - 1]! - time[i]! < hold - 0.5 / hz - 1e-6) continue;
      if (!(low <= held)) held = low;
    }
    if (Number.isNaN(held)) continue;
    const told = exceeds(held, u, limit.value, limit.comparison);
    if (told === 'within') continue;
    found.push({ from, to, deceleration: held, speed: speed.values[start]!, sure: told === 'beyond' });
  }
  return found;
}
