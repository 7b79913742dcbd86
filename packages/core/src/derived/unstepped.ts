/** Longest time (s) between two steps over which a line is drawn; beyond, the value stood still in between. */
const LONGEST = 2;

/**
 * NaN stays NaN. A reading in coarse steps, row by row, drawn as lines from step to step: where it steps, the truth
 * passes the middle of both values, whatever the rounding (a display that cuts lies half a step lower all along).
 * Readings that stand for more than two seconds stay, and so does everything when `quantum` is 0.
 * @param quantum smallest step of the reading; larger changes between two rows are no steps of rounding and stay
 */
export function unstepped(values: Float64Array, time: Float64Array, quantum: number): Float64Array {
  const result = values.slice();
  let at = -1;
  let level = Number.NaN;
  for (let i = 1; i < values.length; i++) {
    const step = values[i]! - values[i - 1]!;
    if (step === 0) continue;
    // A gap, a leap or the first step: nothing to draw a line from.
    const small = Math.abs(step) < 1.5 * quantum;
    const middle = (values[i]! + values[i - 1]!) / 2;
    const t = (time[i]! + time[i - 1]!) / 2;
    if (small && at >= 0 && t - (time[at]! + time[at - 1]!) / 2 <= LONGEST) {
      const begin = (time[at]! + time[at - 1]!) / 2;
      for (let k = at; k < i; k++) result[k] = level + ((middle - level) * (time[k]! - begin)) / (t - begin);
    }
    at = small ? i : -1;
    level = middle;
  }
  return result;
}
