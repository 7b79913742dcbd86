import type { Drive } from './recipe.js';
import { samplesOf } from './samples.js';

/** Looked back over this long (s), or two fresh samples of the slower channel. */
const BACK = 0.7;
/** Largest change (share) of speed and pressure within it. */
const SPEED_STILL = 0.03;
const PRESSURE_STILL = 0.05;

/**
 * NaN is never steady. 1 where engine speed and manifold pressure have been still for long enough that manifold filling
 * and the lag between sensors do not count: comparisons between air mass and pressure are fair there.
 */
export function steadyRows(drive: Drive, speed: Float64Array, pressure: Float64Array): Uint8Array {
  const samples = samplesOf(drive);
  const { time } = drive;
  const hz = Math.min(samples.hz('engineSpeed'), samples.hz('manifoldPressure'));
  const back = Math.max(BACK, 2 / hz);
  const mask = new Uint8Array(speed.length);
  let first = 0;
  for (let i = 0; i < mask.length; i++) {
    while (time[i]! - time[first]! > back) first++;
    // The whole window has to be there: not at the start, not behind a gap.
    if (first === 0 || time[i]! - time[first]! < 0.5 * back) continue;
    const n = speed[i]!;
    const p = pressure[i]!;
    let still = true;
    for (let k = first; k < i && still; k++) {
      still = Math.abs(speed[k]! - n) <= SPEED_STILL * n && Math.abs(pressure[k]! - p) <= PRESSURE_STILL * p;
    }
    if (still && n > 0 && p > 0) mask[i] = 1;
  }
  return mask;
}
