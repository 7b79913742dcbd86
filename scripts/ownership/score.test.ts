import { describe, expect, it } from 'vitest';
import { ASKED, tally } from './score.js';

// The whole run is `npm run bench:ownership`; here so few that only a gross fault shows.
const scenario = (id: string) => ASKED.find((each) => each.id === id)!;

describe('simulated ownerships', () => {
  it('a fast drift is found by month 18, and its crossing held', () => {
    const { hits, crossing, slope } = tally(scenario('fast'), 20, 7001);
    expect(hits).toBeGreaterThanOrEqual(16);
    expect(crossing.told).toBeGreaterThanOrEqual(16);
    expect(crossing.distance / crossing.told).toBeGreaterThan(0.75);
    expect(slope.held / slope.told).toBeGreaterThan(0.75);
  });

  it('without drift there is seldom an alarm, with memory or without', () => {
    // One in twenty by design: 5 of 16 or more would come about once in 1000 times.
    const alarms = tally(scenario('none'), 8, 7101).hits + tally(scenario('none-autocorrelated'), 8, 7201).hits;
    expect(alarms).toBeLessThan(5);
  });
});
