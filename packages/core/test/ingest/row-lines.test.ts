import { describe, expect, it } from 'vitest';
import { RowLines } from '../../src/ingest/row-lines.js';

describe('lines of rows', () => {
  it('are those noted, and run on behind each', () => {
    const lines = new RowLines();
    expect(lines.at(0)).toBeNaN();
    lines.note(0, 3);
    lines.note(100, 103);
    expect([0, 50, 100, 150].map((row) => lines.at(row))).toEqual([3, 53, 103, 153]);
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
});
