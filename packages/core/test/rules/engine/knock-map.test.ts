import { describe, expect, it } from 'vitest';
import type { Drive } from '../../../src/derived/recipe.js';
import type { Result } from '../../../src/engine/assessment.js';
import { knock } from '../../../src/rules/engine/knock.js';
import { runRule } from '../helpers.js';
import { cylinders, pullDrive, silent, step } from './knock-drive.js';

const assess = (drive: Drive): Result => runRule(knock, [drive]);

describe('engine.knock, map', () => {
  it('gives visits, events, mean and highest by cell of 500 rpm and 0.1 load, per cylinder', () => {
    const result = assess(pullDrive({ retard: cylinders(2, { 2: step(4, 2.5, [0, 1], 0.2, 8) }) }));
    const map = ('details' in result && result.details?.knockMap) as { cells: Record<string, number>[] };
    const cell = map.cells.find((c) => c.speed === 3500 && c.load === 0.9 && c.cylinder === 2)!;
    // The pull passes 3500 to 4000 rpm in 0.71 s, three times.
    expect(cell.visits).toBe(3);
    expect(cell.time).toBeCloseTo(3 * (500 / 700), 0);
    expect(cell.events).toBe(2);
    expect(cell.max).toBeCloseTo(4, 6);
    expect(cell.mean!).toBeGreaterThan(0.5);
    expect(map.cells.find((c) => c.speed === 3500 && c.load === 0.9 && c.cylinder === 1)).toMatchObject({
      events: 0,
      max: 0,
      mean: 0,
    });
    expect(silent({ pull: 0, since: 0, t: 0, rpm: 0 })).toBe(0);
  });

  const notesOf = (result: Result): readonly string[] => ('notes' in result ? (result.notes ?? []) : []);

  it('is told in the report as well: the places, worst first, and none where nothing knocked', () => {
    const result = assess(pullDrive({ retard: cylinders(2, { 2: step(4, 2.5, [0, 1], 0.2, 8) }) }));
    const note = notesOf(result).find((each) => each.startsWith('Knock map'))!;
    expect(note).toMatch(
      /^Knock map, worst first: 3500 to 4000 rpm at load 0\.9 to 1\.0 up to 4\.0°, 2 events in 3 passages/,
    );
    expect(result.summary).toMatch(/first at \d+:\d\d and \d+ rpm/);
    const clean = assess(pullDrive({ retard: cylinders(2, {}) }));
    expect(notesOf(clean).filter((each) => each.startsWith('Knock map'))).toEqual([]);
  });
});
