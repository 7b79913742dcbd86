/** Share of ownerships without any drift in which any alarm may fire, over 36 monthly looks and all measures. */
export const DESIGN = 0.05;

/** A limit by the number of tests: directions in which measures are judged. */
type Levels = readonly (readonly [tests: number, limit: number])[];

/**
 * What 4.5 % of simulated ownerships without drift exceed at any of 36 monthly looks in any measure (half of them scatter
 * independently, half with an autocorrelation of 0.3), rounded up to a tenth: half in a hundred below the design, because
 * a level from so many ownerships errs by about as much. `node scripts/run.mjs scripts/ownership/levels.ts --seed 900001 --runs R
 * --measures M` with M (R): 1 and 2 (4000), 4, 8 and 20 (2000; two of the 20 are judged both ways). 4.5 % exceed 2.151, 2.600,
 * 3.429, 3.952, 4.946; of 3500 other ownerships of 20 measures (seeds from 700001, 710001 and 750001) 5.097. Of those with
 * independent scatter 5 % exceed 1.397, 1.980, 2.843, 3.711, 4.526; of those with 0.3 alone 2.400, 2.882, 3.672, 4.101, 5.066.
 */
const ALARM: Levels = [
  [1, 2.2],
  [2, 2.7],
  [4, 3.5],
  [8, 4.0],
  [22, 5.1],
];

/**
 * Widths of the EWMA and decision intervals of the CUSUM that one in twenty families exceeds anywhere in 34 independent
 * scores: `node scripts/run.mjs scripts/ownership/chart-limits.ts --runs 200000 --seed 1`.
 */
const WIDTH: Levels = [
  [1, 2.893],
  [2, 3.116],
  [5, 3.379],
  [10, 3.57],
  [20, 3.758],
  [40, 3.943],
  [80, 4.122],
];
const DECISION: Levels = [
  [1, 4.512],
  [2, 5.155],
  [5, 5.99],
  [10, 6.627],
  [20, 7.258],
  [40, 7.958],
  [80, 8.522],
];

/** ln Bayes factor beyond which a change alarms, in a family of so many tests. */
export function alarmLevel(tests: number): number {
  return between(ALARM, tests);
}

/** Limits of the control charts in a family of so many tests: width in standard deviations, decision interval in scores. */
export function chartLimits(tests: number): { width: number; decision: number } {
  return { width: between(WIDTH, tests), decision: between(DECISION, tests) };
}

/** Straight in the logarithm of the number of tests, and beyond the last as between the last two. */
function between(levels: Levels, tests: number): number {
  const at = Math.max(1, tests);
  let k = 1;
  while (k < levels.length - 1 && levels[k]![0] < at) k++;
  const [fromTests, from] = levels[k - 1]!;
  const [toTests, to] = levels[k]!;
  return from + ((to - from) * Math.log(at / fromTests)) / Math.log(toTests / fromTests);
}
