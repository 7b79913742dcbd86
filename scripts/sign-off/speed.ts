// How long telltale verify takes beside reading: 20 pulls of 100 channels at 100 Hz.
// Usage: node scripts/run.mjs scripts/sign-off/speed.ts [--runs N]
import { readFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { load, readVehicle, verify } from '@telltale/core';
import { carById } from '../simulate/cars.js';
import { cylinderSet, fuelSet, fullSet } from '../simulate/channel-sets.js';
import { toCsv } from '../simulate/csv.js';
import { PLAIN } from '../simulate/dialect.js';
import { profileOf } from '../simulate/profile.js';
import { record } from '../simulate/record.js';
import type { Phase } from '../simulate/script.js';
import { simulate } from '../simulate/simulate.js';

const { values } = parseArgs({ options: { runs: { type: 'string', default: '5' } } });
const car = carById('demo-saloon');
const script: Phase[] = [{ kind: 'cruise', speed: 70, duration: 30 }];
for (let k = 0; k < 20; k++)
  script.push({ kind: 'pull', gear: 3, fromRpm: 2300, toRpm: 6700 }, { kind: 'cruise', speed: 65, duration: 12 });
const sim = simulate({ seed: 71, car, warm: 92, ambient: { temperature: 18 }, script });
const known = [...fullSet(car), ...[...fuelSet(), ...cylinderSet(car)].map((id) => ({ id }))];
const file = toCsv(record(sim, { seed: 71, rate: 100, channels: known }), { ...PLAIN, gzip: false });
// Columns that nobody knows fill it up to a hundred.
const lines = Buffer.from(file.bytes).toString('utf8').trimEnd().split('\n');
const missing = Math.max(0, 100 - lines[0]!.split(',').length);
const text = lines
  .map(
    (line, i) =>
      `${line}${Array.from({ length: missing }, (_, k) => (i === 0 ? `,Spare ${k}` : `,${(i * (k + 3)) % 997}`)).join('')}`,
  )
  .join('\n');
const bytes = new TextEncoder().encode(text);
const input = () => ({ name: 'pulls.csv', size: bytes.length, source: new Blob([bytes]) });
/** Milliseconds that the main thread was on a processor (Linux: proc(5), schedstat), else of the clock: others may load the machine. */
function now(): number {
  try {
    return Number(readFileSync(`/proc/self/task/${process.pid}/schedstat`, 'utf8').split(' ')[0]) / 1e6;
  } catch {
    return performance.now();
  }
}
const told = readVehicle(profileOf(car, {}), 'car.yaml');
if (!told.ok) throw new Error(told.faults[0]!.message);
const vehicle = told.value;

const ways = {
  read: () => load(input()),
  'verified without a profile': () => verify([input()]),
  'verified with a profile': () => verify([input()], [], { vehicle }),
};
const times = new Map<string, number[]>(Object.keys(ways).map((id) => [id, []]));
let pulls = 0;
for (let k = 0; k <= Number(values.runs); k++) {
  for (const [id, run] of Object.entries(ways)) {
    const begun = now();
    const found = await run();
    // The first run warms up.
    if (k > 0) times.get(id)!.push(now() - begun);
    if ('pulls' in found) pulls = found.pulls.length;
  }
}
const middle = (id: string): number => {
  const all = times.get(id)!;
  return [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)]!;
};
console.log(
  `${(bytes.length / 1e6).toFixed(1)} MB, ${lines.length - 1} rows, ${lines[0]!.split(',').length + missing} columns, ${pulls} pulls; medians of ${values.runs} runs`,
);
for (const id of times.keys())
  console.log(`${id}: ${middle(id).toFixed(0)} ms, ${(middle(id) / middle('read')).toFixed(2)} times reading`);
