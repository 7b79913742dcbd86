import { mean, sum } from '../math/mean.js';
import { median } from '../math/quantile.js';
import { populationDeviation } from '../math/standard-deviation.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED } from './speed.js';

export interface Trip {
  /** km, by the trapezoidal rule; gaps count when the car moved on both sides of them. */
  readonly distance: number;
  /** km of `distance` that lie in gaps of the recording. */
  readonly bridged: number;
  /** s, first to last row. */
  readonly duration: number;
  /** s with speed above standstill, gaps left out. */
  readonly movingTime: number;
  /** km/h */
  readonly maxSpeed: number;
  /** km/h over the recorded time, gaps left out. */
  readonly meanSpeed: number;
}

export const TRIP = recipe<Trip>({
  id: 'trip',
  about: 'Distance, durations and speeds of the recording: integral of the road speed over time (trapezoidal rule).',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no trip: ${speed.reason}`, speed.missing);
    const { time } = drive;
    const { values, standing } = speed;
    const { maxStep } = samplesOf(drive);
    let recorded = 0;
    let bridged = 0;
    let moving = 0;
    let seconds = 0;
    let maxSpeed = Number.NaN;
    let previous = -1;
    for (let i = 0; i < time.length; i++) {
      const v = values[i]!;
      if (Number.isNaN(v)) continue;
      if (!(v <= maxSpeed)) maxSpeed = v;
      if (previous >= 0) {
        const dt = time[i]! - time[previous]!;
        const u = values[previous]!;
        if (dt > maxStep) {
          if (u >= standing && v >= standing) bridged += 0.5 * (u + v) * dt;
        } else {
          recorded += 0.5 * (u + v) * dt;
          seconds += dt;
          if (u >= standing || v >= standing) moving += dt;
        }
      }
      previous = i;
    }
    const duration = time.length > 0 ? time[time.length - 1]! - time[0]! : 0;
    return {
      distance: (recorded + bridged) / 3600,
      bridged: bridged / 3600,
      duration,
      movingTime: moving,
      maxSpeed,
      meanSpeed: seconds > 0 ? recorded / seconds : Number.NaN,
    };
  },
});

export interface SpeedStatistics {
  readonly samples: number;
  /** s: samples times spacing. */
  readonly recordedTime: number;
  /** s: samples above 0 times spacing. */
  readonly drivingTime: number;
  /** s: samples equal to 0 times spacing. */
  readonly restTime: number;
  /** Sum of speed times spacing, in the speed's length unit (speed is per hour). */
  readonly distance: number;
  readonly max: number;
  readonly mean: number;
  readonly median: number;
  /** Divisor n. */
  readonly deviation: number;
  /** Mean of the samples above 0; NaN when there is none. */
  readonly drivingMean: number;
  /** s between neighbouring samples. */
  readonly gap: { readonly max: number; readonly mean: number; readonly median: number };
  /** s with low < speed <= high: samples times spacing. */
  timeBetween(low: number, high: number): number;
}

/**
 * NaN speeds are dropped with their rows; no sample gives NaN and 0. Statistics of a sampled speed, each sample standing
 * for one `spacing`, gaps not filled: the definitions that travel-survey data centres use, so that trips compare.
 * @param time s; @param speed any length per hour; @param spacing s that one sample stands for (median gap when absent)
 */
export function speedStatistics(time: ArrayLike<number>, speed: ArrayLike<number>, spacing?: number): SpeedStatistics {
  const kept: number[] = [];
  const at: number[] = [];
  for (let i = 0; i < speed.length; i++) {
    if (Number.isNaN(speed[i]!)) continue;
    kept.push(speed[i]!);
    at.push(time[i]!);
  }
  const gaps: number[] = [];
  for (let k = 1; k < at.length; k++) gaps.push(at[k]! - at[k - 1]!);
  const driving = kept.filter((v) => v > 0);
  const gap = { max: greatest(gaps), mean: mean(gaps), median: median(gaps) };
  const step = spacing ?? gap.median;
  return {
    samples: kept.length,
    recordedTime: kept.length * step,
    drivingTime: driving.length * step,
    restTime: kept.filter((v) => v === 0).length * step,
    distance: (sum(kept) * step) / 3600,
    max: greatest(kept),
    mean: mean(kept),
    median: median(kept),
    deviation: populationDeviation(kept),
    drivingMean: mean(driving),
    gap,
    timeBetween: (low, high) => kept.filter((v) => v > low && v <= high).length * step,
  };
}

function greatest(values: readonly number[]): number {
  let top = Number.NaN;
  for (const x of values) if (!(x <= top)) top = x;
  return top;
}
