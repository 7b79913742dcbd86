import { describe, expect, it } from 'vitest';
import type { Axes } from '../../src/verify/axes.js';
import { cellChanges } from '../../src/verify/cell-change.js';
import { emptySet, type SampleSet } from '../../src/verify/table-samples.js';
import { evenly } from '../math/random.js';

const AXES: Axes = {
  engineSpeed: [2000, 3000, 4000, 5000, 6000],
  load: { channel: 'manifoldPressure', points: [100, 200] },
  loadUnit: 'kPa',
};

/** Visits that pass all cells; each has an offset of its own in all of them, and one in each. */
function visits(count: number, random: () => number, shift: (rpm: number) => number, from: number): SampleSet {
  const set = emptySet();
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  for (let k = 0; k < count; k++) {
    const own = normal();
    for (const load of AXES.load.points)
      for (const speed of AXES.engineSpeed) {
        const cell = own + 0.7 * normal();
        for (let i = 0; i < 10; i++) {
          set.speed.push(speed + 20 * i);
          set.load.push(load);
          set.value.push(cell + shift(speed) + 0.1 * normal());
          set.stretch.push(from + k);
        }
      }
  }
  return set;
}

const compared = (before: SampleSet, after: SampleSet) =>
  cellChanges(new Map([['boostError/', before]]), new Map([['boostError/', after]]), AXES)[0];

describe('cell by cell', () => {
  it('one map twice: any of ten cells differs in about one set of twenty at most', () => {
    const sets = 400;
    let wrong = 0;
    for (let seed = 1; seed <= sets; seed++) {
      const random = evenly(seed);
      const found = compared(
        visits(6, random, () => 0, 0),
        visits(7, random, () => 0, 6),
      );
      expect(found!.cells).toHaveLength(10);
      if (found!.cells.some(({ changed }) => changed)) wrong++;
    }
    // Four standard errors over the design of 5 %.
    expect(wrong / sets).toBeLessThan(0.05 + 4 * Math.sqrt((0.05 * 0.95) / sets));
  });

  it('finds where a map was changed, and how much', () => {
    const random = evenly(11);
    const found = compared(
      visits(10, random, () => 0, 0),
      visits(10, random, (rpm) => (rpm >= 5000 ? 8 : 0), 10),
    );
    for (const { engineSpeed, changed, difference } of found!.cells) {
      expect(changed, String(engineSpeed)).toBe(engineSpeed >= 5000);
      if (engineSpeed >= 5000) expect(difference.low <= 8 && 8 <= difference.high).toBe(true);
    }
  });

  it('cells with two visits are not compared', () => {
    const random = evenly(12);
    expect(
      compared(
        visits(2, random, () => 0, 0),
        visits(9, random, () => 9, 2),
      ),
    ).toBeUndefined();
  });
});
