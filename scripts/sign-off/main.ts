// How often the intervals of telltale verify hold the true change, and how often it sees one where none is.
// Usage: node scripts/run.mjs scripts/sign-off/main.ts [--sets N] [--logs N] [--seed S]
import { parseArgs } from 'node:util';
import { wilsonInterval } from '@telltale/core';
import { scoreCells } from './cells.js';
import { scoreAir, scoreLogs } from './logs.js';
import { score } from './sets.js';

const { values } = parseArgs({
  options: {
    sets: { type: 'string', default: '2000' },
    // Whole logs take about half a second a set.
    logs: { type: 'string', default: '300' },
    seed: { type: 'string', default: '1' },
  },
});
const [sets, logs, seed] = [Number(values.sets), Number(values.logs), Number(values.seed)];
if (![sets, logs, seed].every(Number.isInteger) || sets < 1) throw new Error('expected --sets N --logs N --seed S');
const found = score(sets, seed);
const share = (count: number, of: number): string => {
  const { low, high } = wilsonInterval(count, of);
  return `${((100 * count) / of).toFixed(1)} % (95 % interval ${(100 * low).toFixed(1)} to ${(100 * high).toFixed(1)} %)`;
};
console.log(
  `${sets} simulated sets of each kind, seeds from ${seed}: 5 to 12 pulls a side, samples correlated by 0.95 to 0.99.`,
);
for (const [id, count] of found.covered)
  console.log(`${id}: true change inside the 95 % interval in ${share(count, sets)}`);
console.log(`same map twice: any of five endpoints called changed in ${share(found.falseChanges, sets)}`);
console.log(
  `changes beyond the smallest detectable one, called changed after Holm: ${share(found.found, found.beyond)}`,
);
const cells = scoreCells(sets, seed);
console.log(`tables of one map twice with any of ten cells called changed: ${share(cells.falseTables, sets)}`);
console.log(`bands that hold the true differences of all ten cells together: ${share(cells.covered, sets)}`);
if (logs > 0) {
  console.log(`${logs} sets of whole logs, as CSV text through the command:`);
  const whole = await scoreLogs(logs, seed);
  for (const [id, count] of whole.covered)
    console.log(`${id}: true change inside the 95 % interval in ${share(count, logs)}`);
  console.log(`same map twice: any endpoint called changed in ${share(whole.falseEndpoints, logs)}`);
  console.log(`same map twice: tables with a cell called changed ${share(whole.falseTables, whole.tables)}`);
  const air = await scoreAir(Math.ceil(logs / 5), seed);
  console.log(
    `air meter wrong by 3 to 15 %, ${air.sets} logs: nodes within 1.5 points ${share(air.near, air.nodes)}, inside their interval ${share(air.covered, air.nodes)}`,
  );
}
