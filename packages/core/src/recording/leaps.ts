import type { Candidate, ProblemList } from './candidate.js';
import type { Problem } from './problem.js';

/** Fluids in bulk, of which one reading cannot leave the last one behind. */
const BULK: readonly string[] = ['coolantTemperature', 'engineOilTemperature', 'transmissionOilTemperature'];
/**
 * K at once, and K per second between two readings, that no bulk of fluid changes by. Derived: 7 kg of oil hold 14 kJ/K, so
 * 20 K in a moment take 280 kJ, and 2 K/s take 28 kW that all stay in it. Common practice, no source: twice what a
 * thermostat that opens does to the coolant.
 */
const AT_ONCE = 20;
const PER_SECOND = 2;
/** s, longest time for which a reading that is held counts as old: slow channels are asked every ten seconds. */
const OLDEST = 10;
/** Changes on either side that have to lie nearer to their own end of the leap than to the other. */
const STAYS = 2;

/**
 * Says where a fluid temperature leaps to another level and stays there. NaN is no sample. The samples are kept: which
 * side is true is not told by the column itself. A gap of the clock, or its restart, explains a leap.
 */
export function tellLeaps(
  channels: readonly Candidate[],
  time: Float64Array,
  found: readonly Pick<Problem, 'code' | 'from'>[],
  problems: ProblemList,
): void {
  const restarts = found.flatMap(({ code, from }) => (code === 'time-restart' && from !== undefined ? [from] : []));
  for (const candidate of channels) {
    const { values, runs, facts, column } = candidate;
    if (!BULK.includes(facts.base) || runs === undefined) continue;
    const at = leapRows(values, runs.starts, runs.count, time, restarts);
    const [first] = at;
    if (first === undefined) continue;
    const [a, b] = [values[runs.starts[first - 1]!]!, values[runs.starts[first]!]!];
    candidate.leaps = at.map((k) => time[runs.starts[k]!]!);
    const [from, to] = [candidate.leaps[0]!, candidate.leaps[at.length - 1]!];
    problems.add(
      'leap',
      column,
      facts.id,
      `leaps from ${Math.round(a)} to ${Math.round(b)} ${facts.unit} at ${Math.round(from)} s and stays there, which no fluid can; kept, but one side of it is not true`,
      { count: at.length, from, to },
    );
  }
}

/** Runs that begin with a leap. */
function leapRows(
  values: Float64Array,
  starts: Int32Array,
  count: number,
  time: Float64Array,
  restarts: readonly number[],
): readonly number[] {
  const found: number[] = [];
  const value = (k: number): number => values[starts[k]!]!;
  for (let k = 1; k < count; k++) {
    const size = Math.abs(value(k) - value(k - 1));
    if (size <= AT_ONCE) continue;
    const [i, j] = [starts[k - 1]!, starts[k]!];
    // The last sample of the run before, and how old it may have been.
    let last = j - 1;
    while (last > i && Number.isNaN(values[last]!)) last--;
    const old = Math.min(OLDEST, time[last]! - time[i]!);
    if (size <= AT_ONCE + PER_SECOND * (time[j]! - time[last]! + old)) continue;
    if (restarts.some((at) => at > time[i]! && at <= time[j]!)) continue;
    const up = value(k) > value(k - 1);
    const middle = (value(k) + value(k - 1)) / 2;
    let stays = true;
    for (let d = 1; d <= STAYS; d++) {
      if (k + d < count && value(k + d) > middle !== up) stays = false;
      if (k - 1 - d >= 0 && value(k - 1 - d) < middle !== up) stays = false;
    }
    if (stays) found.push(k);
  }
  return found;
}
