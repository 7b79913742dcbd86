// How long telltale verify takes beside reading: 20 pulls of 100 channels at 100 Hz.
// Usage: node scripts/run.mjs scripts/sign-off/speed.ts [--runs N]
import { parseArgs } from 'node:util';
import { load, verify } from '@telltale/core';
import { carById } from '../simulate/cars.js';
import { cylinderSet, fuelSet, fullSet } from '../simulate/channel-sets.js';
import { toCsv } from '../simulate/csv.js';
import { PLAIN } from '../simulate/dialect.js';
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
const times: { read: number[]; verified: number[] } = { read: [], verified: [] };
let pulls = 0;
for (let k = 0; k <= Number(values.runs); k++) {
  let begun = performance.now();
  await load(input());
  const read = performance.now() - begun;
  begun = performance.now();
  pulls = (await verify([input()])).pulls.length;
  const verified = performance.now() - begun;
  // The first run warms up.
  if (k > 0) {
    times.read.push(read);
    times.verified.push(verified);
  }
}
const middle = (all: number[]): number => [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)]!;
const [read, verified] = [middle(times.read), middle(times.verified)];
console.log(
  `${(bytes.length / 1e6).toFixed(1)} MB, ${lines.length - 1} rows, ${lines[0]!.split(',').length + missing} columns, ${pulls} pulls: read ${read.toFixed(0)} ms, verified ${verified.toFixed(0)} ms, ratio ${(verified / read).toFixed(2)} (medians of ${times.read.length})`,
);
