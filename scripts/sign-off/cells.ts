import type { Axes } from '../../packages/core/src/verify/axes.js';
import { cellChanges } from '../../packages/core/src/verify/cell-change.js';
import { emptySet, type SampleSet } from '../../packages/core/src/verify/table-samples.js';
import { Random } from '../simulate/random.js';

const AXES: Axes = {
  engineSpeed: [2000, 3000, 4000, 5000, 6000],
  load: { channel: 'manifoldPressure', points: [100, 200] },
  loadUnit: 'kPa',
};
/** Samples of a visit in a cell; neighbours correlate by 0.95. */
const SAMPLES = 10;
const RHO = 0.95;

export interface CellScore {
  readonly sets: number;
  /** Tables of the same map twice in which any cell was called changed. */
  readonly falseTables: number;
  /** Tables of a changed map of which every cell's band holds its true difference. */
  readonly covered: number;
}

/**
 * Tables of ten cells, 3 to 12 visits a side: a visit has an offset of its own in all cells, one in each, and samples that hang
 * together. Changed sets have true differences up to five deviations, another in each cell.
 */
export function scoreCells(sets: number, seed: number): CellScore {
  let [falseTables, covered] = [0, 0];
  for (let k = 0; k < sets; k++) {
    const random = new Random(seed + k, 17);
    const truth = AXES.load.points.flatMap(() => AXES.engineSpeed.map(() => random.range(-5, 5)));
    const counts = [random.int(3, 12), random.int(3, 12), random.int(3, 12)] as const;
    const before = visitsOf(counts[0], random, undefined, 0);
    const same = compared(before, visitsOf(counts[1], random, undefined, 100));
    if (same.some(({ changed }) => changed)) falseTables++;
    const other = compared(before, visitsOf(counts[2], random, truth, 100));
    if (other.every(({ difference }, c) => difference.low <= truth[c]! && truth[c]! <= difference.high)) covered++;
  }
  return { sets, falseTables, covered };
}

function compared(before: SampleSet, after: SampleSet) {
  return cellChanges(new Map([['boostError/', before]]), new Map([['boostError/', after]]), AXES)[0]!.cells;
}

function visitsOf(count: number, random: Random, truth: readonly number[] | undefined, from: number): SampleSet {
  const set = emptySet();
  for (let k = 0; k < count; k++) {
    const own = random.normal();
    let noise = random.normal();
    AXES.load.points.forEach((load, r) => {
      AXES.engineSpeed.forEach((speed, c) => {
        const level = own + 0.7 * random.normal() + (truth?.[r * AXES.engineSpeed.length + c] ?? 0);
        for (let i = 0; i < SAMPLES; i++) {
          noise = RHO * noise + Math.sqrt(1 - RHO * RHO) * random.normal();
          set.speed.push(speed + 20 * i);
          set.load.push(load);
          set.value.push(level + 0.2 * noise);
          set.stretch.push(from + k);
        }
      });
    });
  }
  return set;
}
