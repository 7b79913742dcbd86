import type { FuelCut } from '../../derived/fuel-cut.js';
import { type Segment, segmentsOf, widened } from '../../derived/intervals.js';
import type { LoadFraction } from '../../derived/load-fraction.js';
import { isRefusal, type Refusal } from '../../derived/recipe.js';

/** Wall film and exhaust travel: this long (s) after load sets in or fuel comes back, the mixture is no evidence. Common practice, no source. */
const AFTER_ONSET = 0.7;
const AFTER_CUT = 2;
/** Full load below this engine speed (rpm) is left to driveability. */
const SLOWEST = 1500;
/** Limiters cut single cylinders from here below the limit, rpm. */
const LIMITER = 100;

export interface FullLoad {
  /** 1 where the mixture at full load can be judged. */
  readonly mask: Uint8Array;
  /** Index + 1 of the stretch of full load that a row belongs to; 0 = none. */
  readonly stretch: Uint32Array;
  /** Seconds of full load, settling included. */
  readonly seconds: number;
}

export interface FullLoadParts {
  readonly pulls: readonly Segment[] | Refusal;
  readonly load: LoadFraction | Refusal;
  readonly shifts: readonly Segment[] | Refusal;
  readonly cut: FuelCut | Refusal;
  readonly rpm: Float64Array | undefined;
  readonly revLimit: number | undefined;
  readonly time: Float64Array;
}

/** Rows at full load, less shifts, fuel cuts, the limiter and the first moments of each stretch. */
export function fullLoadRows({ pulls, load, shifts, cut, rpm, revLimit, time }: FullLoadParts): FullLoad {
  const n = time.length;
  const mask = new Uint8Array(n);
  if (!isRefusal(load)) mask.set(load.high);
  if (!isRefusal(pulls)) for (const { start, end } of pulls) mask.fill(1, start, end + 1);
  const clear = (segments: readonly Segment[], before: number, after: number): void => {
    for (const { start, end } of widened(segments, time, before, after)) mask.fill(0, start, end + 1);
  };
  if (!isRefusal(cut)) clear(cut.segments, 0.2, AFTER_CUT);
  if (!isRefusal(shifts)) clear(shifts, 0, 0);
  const ceiling = revLimit === undefined ? Number.POSITIVE_INFINITY : revLimit - LIMITER;
  if (rpm !== undefined) for (let i = 0; i < n; i++) if (rpm[i]! < SLOWEST || rpm[i]! > ceiling) mask[i] = 0;
  const stretch = new Uint32Array(n);
  let seconds = 0;
  segmentsOf(mask, time, { maxStep: 2.5 }).forEach(({ from, to, start, end }, k) => {
    seconds += to - from;
    stretch.fill(k + 1, start, end + 1);
    for (let i = start; i <= end && time[i]! - from < AFTER_ONSET; i++) mask[i] = 0;
  });
  return { mask, stretch, seconds };
}
