// Finds the limits of the logbook's control charts: what one in twenty families of independent standard scores exceeds
// anywhere in 34 points (36 looks less the first two). No autocorrelation: the charts widen them themselves.
// Usage: node scripts/run.mjs scripts/ownership/chart-limits.ts [--runs N] [--seed S]
import { parseArgs } from 'node:util';
import { ALLOWANCE, WEIGHT } from '../../packages/core/src/logbook/trend/charts.js';
import { cusum, ewma } from '../../packages/core/src/math/control-charts.js';
import { Random } from '../simulate/random.js';

const { values } = parseArgs({
  options: { runs: { type: 'string', default: '200000' }, seed: { type: 'string', default: '1' } },
});
const runs = Number(values.runs);
const random = new Random(Number(values.seed), 12);
const POINTS = 34;
const widths = new Float64Array(runs);
const decisions = new Float64Array(runs);
for (let k = 0; k < runs; k++) {
  const scores = Float64Array.from({ length: POINTS }, () => random.normal());
  // Limits one standard deviation wide: the value over the upper limit is the width that it needs.
  for (const { value, high } of ewma(scores, { target: 0, sigma: 1, weight: WEIGHT, width: 1 }))
    widths[k] = Math.max(widths[k]!, value / high);
  for (const { above } of cusum(scores, 0, ALLOWANCE)) decisions[k] = Math.max(decisions[k]!, above);
}
widths.sort();
decisions.sort();
for (const tests of [1, 2, 5, 10, 20, 40, 80]) {
  const at = Math.floor(runs * 0.95 ** (1 / tests));
  console.log(`${tests} tests: width ${widths[at]!.toFixed(3)}, decision ${decisions[at]!.toFixed(3)}`);
}
