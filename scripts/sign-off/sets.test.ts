import { describe, expect, it } from 'vitest';
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
