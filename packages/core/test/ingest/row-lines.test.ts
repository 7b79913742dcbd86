import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { RowLines } from '../../src/ingest/row-lines.js';

describe('lines of rows', () => {
  it('are those noted, and run on behind each', () => {
    const lines = new RowLines();
    expect(lines.at(0)).toBeNaN();
    lines.note(0, 3);
    lines.note(100, 103);
    expect(lines.runs.rows).toEqual([0]);
    lines.note(200, 210);
    expect([0, 99, 199, 200, 250].map((row) => lines.at(row))).toEqual([3, 102, 202, 210, 260]);
  });

  it('forget what was said of a row and those behind it', () => {
    const lines = new RowLines();
    for (const [row, line] of [
      [0, 2],
      [5, 9],
      [8, 20],
      [5, 30],
    ] as const)
      lines.note(row, line);
    expect([4, 5, 8].map((row) => lines.at(row))).toEqual([6, 30, 33]);
    lines.note(0, 1);
    expect(lines.at(9)).toBe(10);
  });

  it('are the same in one list and in two that are joined', () => {
    const steps = fc.array(fc.integer({ min: 1, max: 3 }), { minLength: 1, maxLength: 60 });
    fc.assert(
      fc.property(steps, fc.nat(), (list, at) => {
        const split = at % (list.length + 1);
        let line = 7;
        const expected = list.map((step) => {
          line += step;
          return line - step;
        });
        const joined = new RowLines();
        for (let row = 0; row < split; row++) joined.note(row, expected[row]!);
        const rest = new RowLines();
        const from = expected[split] ?? 0;
        for (let row = split; row < list.length; row++) rest.note(row - split, expected[row]! - from);
        joined.append(rest.runs, split, from);
        expect(list.map((_, row) => joined.at(row))).toEqual(expected);
      }),
    );
  });
});
