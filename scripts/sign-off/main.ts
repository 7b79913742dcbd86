// How often the intervals of telltale verify hold the true change, and how often it sees one where none is.
// Usage: node scripts/run.mjs scripts/sign-off/main.ts [--sets N] [--seed S]
import { parseArgs } from 'node:util';
import { wilsonInterval } from '@telltale/core';
import { score } from './sets.js';

const { values } = parseArgs({
  options: { sets: { type: 'string', default: '2000' }, seed: { type: 'string', default: '1' } },
});
const [sets, seed] = [Number(values.sets), Number(values.seed)];
if (!Number.isInteger(sets) || sets < 1 || !Number.isInteger(seed)) throw new Error('expected --sets N --seed S');
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
