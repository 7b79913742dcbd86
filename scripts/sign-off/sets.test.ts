import { describe, expect, it } from 'vitest';
import { scoreCells } from './cells.js';
import { scoreAir, scoreLogs } from './logs.js';
import { score } from './sets.js';

// The whole run is scripts/sign-off/main.ts; here so few sets that only a gross fault shows (4 standard errors).
const SETS = 300;
const reach = (p: number): number => 4 * Math.sqrt((p * (1 - p)) / SETS);

describe('simulated sets of pulls', () => {
  const found = score(SETS, 5000);

  it('the intervals hold the true change, although the samples hang together', () => {
    for (const [id, count] of found.covered) {
      expect(Math.abs(count / SETS - 0.95), id).toBeLessThan(reach(0.95));
    }
  });

  it('one map twice is seldom called changed', () => {
    expect(found.falseChanges / SETS).toBeLessThan(0.05 + reach(0.05));
  });

  it('four of five changes beyond the smallest detectable one are found, and more', () => {
    expect(found.beyond).toBeGreaterThan(100);
    expect(found.found / found.beyond).toBeGreaterThan(0.8);
  });
});

describe('tables', () => {
  it('one map twice seldom has a cell that changed, and the band holds ten true differences at once', () => {
    const found = scoreCells(SETS, 5000);
    expect(found.falseTables / SETS).toBeLessThan(0.05 + reach(0.05));
    expect(found.covered / SETS).toBeGreaterThan(0.95 - reach(0.95));
  });
});

// So few that only a gross fault shows: with 95 in 100 right, fewer than 8 of 12 have a chance below 1 in 5000.
describe('whole logs, as text through the command', () => {
  it('the intervals hold the true change of boost and mixture', async () => {
    const { covered, falseEndpoints, tables } = await scoreLogs(12, 9000);
    for (const [id, count] of covered) expect(count, id).toBeGreaterThanOrEqual(8);
    expect(falseEndpoints).toBeLessThanOrEqual(4);
    expect(tables).toBeGreaterThan(12);
  }, 60_000);

  it('an air meter that is wrong by 3 to 15 % is found, node by node', async () => {
    const { nodes, near, covered } = await scoreAir(4, 9000);
    expect(nodes).toBeGreaterThan(10);
    expect(near / nodes).toBeGreaterThan(0.95);
    expect(covered / nodes).toBeGreaterThan(0.85);
  }, 60_000);
});
