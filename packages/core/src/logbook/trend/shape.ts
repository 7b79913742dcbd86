/** A way in which a measure can get worse: from when, and how. */
export interface Shape {
  /** `drift`: steadily since the look; `step`: at once with it. */
  readonly kind: 'drift' | 'step';
  /** First look that it touches. */
  readonly onset: number;
  /** Goes on through re-baselining instead of starting anew with it. */
  readonly through: boolean;
  /** Its shape over all looks: years since onset, or 0 and 1. */
  readonly column: Float64Array;
  /** Share of the belief before the data; all together 1. */
  readonly prior: number;
  /** Standard deviation of its size before the data, in scatters (a year for a drift). */
  readonly scale: number;
}

/**
 * Sizes that are looked for, in scatters: common practice, no source. Half of the drifts are believed slower than one
 * scatter a year; four a year is a fault in the making.
 */
export const DRIFT_SCALE = 1.5;
const STEP_SCALE = 3;
/** Looks that a drift, and a step on either side, has to last before it is weighed. */
export const DRIFT_LOOKS = 5;
const STEP_LOOKS = 3;
/** Looks between the onsets that are weighed for an alarm: neighbours say nearly the same. */
const DRIFT_STRIDE = 3;
const STEP_STRIDE = 2;
/** Belief in a step rather than a drift, and in a drift as old as the baseline rather than a younger one. */
const STEP_SHARE = 0.15;
const OLD_SHARE = 0.75;

/**
 * Shapes that go on to the last look, the oldest drift first.
 * @param years years (or distance in years' worth) of each look, never falling
 * @param start first look of the present baseline
 * @param every every onset, to describe a change, not only those that an alarm rests on
 */
export function shapesOf(years: Float64Array, start: number, every = false): Shape[] {
  const driftStride = every ? 1 : DRIFT_STRIDE;
  const stepStride = every ? 1 : STEP_STRIDE;
  const n = years.length;
  const old: Shape[] = [];
  const young: Shape[] = [];
  const steps: Shape[] = [];
  const drift = (onset: number, through: boolean): Shape => {
    const from = years[onset]!;
    const column = new Float64Array(n);
    for (let i = onset; i < n; i++) column[i] = years[i]! - from;
    return { kind: 'drift', onset, through, column, prior: 0, scale: DRIFT_SCALE };
  };
  if (n - start >= DRIFT_LOOKS) old.push(drift(start, false));
  if (start > 0 && n >= DRIFT_LOOKS) old.push(drift(0, true));
  for (let onset = start + driftStride; onset <= n - DRIFT_LOOKS; onset += driftStride) young.push(drift(onset, false));
  for (let onset = start + STEP_LOOKS; onset <= n - STEP_LOOKS; onset += stepStride) {
    const column = new Float64Array(n).fill(1, onset);
    steps.push({ kind: 'step', onset, through: false, column, prior: 0, scale: STEP_SCALE });
  }
  const drifts = steps.length > 0 ? 1 - STEP_SHARE : 1;
  const elders = young.length > 0 ? OLD_SHARE : 1;
  return [...shared(old, drifts * elders), ...shared(young, drifts * (1 - elders)), ...shared(steps, STEP_SHARE)];
}

function shared(shapes: readonly Shape[], belief: number): Shape[] {
  return shapes.map((shape) => ({ ...shape, prior: belief / shapes.length }));
}
