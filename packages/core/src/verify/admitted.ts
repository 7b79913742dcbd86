import { FUEL_CUT } from '../derived/fuel-cut.js';
import { SHIFTS } from '../derived/gear-shifts.js';
import { type Segment, segmentsOf, widened } from '../derived/intervals.js';
import { LOAD_FRACTION } from '../derived/load-fraction.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { TORQUE_INTERVENTIONS } from '../derived/torque-interventions.js';
import { runningOrAll, WARM } from '../derived/warm.js';
import { windowRange } from '../math/window-range.js';

/** Share of the load that may pass within a second. */
const STEADY = { change: 0.05, seconds: 1 };
/** Seconds after a fuel cut, a shift or a tip-in until mixture and load say something about the map. */
const AFTER = 2;
/** Purge duty (%) from which fuel vapour stands in the trims. Common practice, no source. */
const PURGES = 20;

/** Rows that count in tables, and the stretch of such rows (0, 1, …) that each belongs to; -1 = does not count. */
export interface Admitted {
  readonly stretch: Int32Array;
  readonly stretches: number;
}

/** Warm, steady load, little purge, not within two seconds of cut, shift, tip-in or traction control. */
export function admittedOf(drive: Drive): Admitted {
  const { time } = drive;
  const mask = runningOrAll(drive).slice();
  const warm = drive.derive(WARM);
  const purge = samplesOf(drive).held('purgeDuty');
  for (let i = 0; i < mask.length; i++)
    if ((!isRefusal(warm) && warm.mask[i] === 0) || (purge?.[i] ?? 0) > PURGES) mask[i] = 0;
  const out = (segments: readonly Segment[]): void => {
    for (const { start, end } of widened(segments, time, 0, AFTER)) mask.fill(0, start, end + 1);
  };
  const cut = drive.derive(FUEL_CUT);
  if (!isRefusal(cut)) out(cut.segments);
  const shifts = drive.derive(SHIFTS);
  if (!isRefusal(shifts)) out(shifts);
  const taken = drive.derive(TORQUE_INTERVENTIONS);
  if (!isRefusal(taken)) {
    out(segmentsOf(taken.mask, time));
    out(segmentsOf(taken.traction, time));
  }
  const load = loadRows(drive);
  if (load !== undefined) {
    const steady = steadyRows(load, time);
    for (let i = 0; i < mask.length; i++) if (steady[i] === 0) mask[i] = 0;
  }
  const stretch = new Int32Array(mask.length).fill(-1);
  const found = segmentsOf(mask, time, { maxStep: samplesOf(drive).maxStep, maxGap: 0.3 });
  found.forEach(({ start, end }, k) => {
    for (let i = start; i <= end; i++) if (mask[i] === 1) stretch[i] = k;
  });
  return { stretch, stretches: found.length };
}

/** Load as a share; undefined when nothing tells. */
function loadRows(drive: Drive): Float64Array | undefined {
  const fraction = drive.derive(LOAD_FRACTION);
  if (!isRefusal(fraction) && fraction.values.some((x) => !Number.isNaN(x))) return fraction.values;
  const samples = samplesOf(drive);
  return samples.held('engineLoad')?.map((x) => x / 100) ?? samples.held('manifoldPressure')?.map((x) => x / 250);
}

/** 1 where the load has moved by no more than {@link STEADY} within the second before. */
function steadyRows(load: Float64Array, time: Float64Array): Uint8Array {
  const mask = new Uint8Array(load.length);
  const range = windowRange(load, time, STEADY.seconds);
  for (let i = 0; i < load.length; i++)
    if (time[i]! - time[0]! >= STEADY.seconds && range[i]! <= STEADY.change) mask[i] = 1;
  return mask;
}
