import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { anyChange, changesOf, countCommon, countMarked } from '../../src/recording/changes.js';
import { lazyRuns, scanRuns } from '../../src/recording/run.js';

const ROWS = 500;
const column = fc.array(fc.integer({ min: 0, max: 2 }), { minLength: ROWS, maxLength: ROWS });
const runsIn = (list: readonly number[]) => scanRuns(Float64Array.from(list), new Int32Array(ROWS));
const rowsOf = (list: readonly number[]) => list.flatMap((x, i) => (i > 0 && x !== list[i - 1] ? [i] : []));

describe('rows of change', () => {
  it('are counted as in a list of them', () => {
    fc.assert(
      fc.property(column, column, (a, b) => {
        const [rowsA, rowsB] = [rowsOf(a), rowsOf(b)];
        const [changesA, changesB] = [changesOf(runsIn(a), ROWS), changesOf(runsIn(b), ROWS)];
        expect(changesA.count).toBe(rowsA.length);
        expect([...changesA.first]).toEqual(rowsA.slice(0, 400));
        expect(countMarked(changesA.bits)).toBe(rowsA.length);
        expect(countCommon(changesA.bits, changesB.bits)).toBe(rowsA.filter((row) => rowsB.includes(row)).length);
        expect(countMarked(anyChange([changesA, changesB], ROWS))).toBe(new Set([...rowsA, ...rowsB]).size);
      }),
    );
  });

  it('are none in a channel without samples', () => {
    const { count, first, bits } = changesOf(runsIn(new Array(ROWS).fill(Number.NaN)), ROWS);
    expect([count, first.length, countMarked(bits)]).toEqual([0, 0, 0]);
  });
});

describe('runs without memory of their own', () => {
  it('are found again when another channel has used the scratch', () => {
    const scratch = new Int32Array(ROWS);
    const [a, b] = [Float64Array.of(1, 1, 2, 2, 3), Float64Array.of(1, 2, 2, 2, 2)];
    const lazy = lazyRuns(scanRuns(a, scratch), a, scratch);
    scanRuns(b, scratch);
    expect([...lazy.starts.subarray(0, lazy.count)]).toEqual([0, 2, 4]);
    expect({ ...lazy, starts: undefined }).toEqual({ ...scanRuns(a, new Int32Array(ROWS)), starts: undefined });
  });
});
