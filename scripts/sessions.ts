// Writes test-data/sessions: full-load runs of one invented car with two maps, and what was changed between them.
// Usage: node scripts/run.mjs scripts/sessions.ts [--out FOLDER]
import { mkdirSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { carById } from './simulate/cars.js';
import { fuelSet, fullSet } from './simulate/channel-sets.js';
import { toCsv } from './simulate/csv.js';
import { PLAIN } from './simulate/dialect.js';
import type { Plant } from './simulate/plant.js';
import { profileOf } from './simulate/profile.js';
import { record } from './simulate/record.js';
import type { Phase } from './simulate/script.js';
import { simulate } from './simulate/simulate.js';

interface Session {
  readonly name: string;
  readonly seed: number;
  readonly temperature: number;
  readonly pulls: number;
  /** What is true of the map, in words. */
  readonly truth: readonly string[];
  readonly disturb: (plant: Plant) => void;
}

const SESSIONS: readonly Session[] = [
  {
    name: 'before',
    seed: 61,
    temperature: 17,
    pulls: 10,
    truth: ['healthy map', 'boost settles 4 kPa over its target'],
    disturb(plant) {
      plant.boostOffset = 4;
    },
  },
  {
    name: 'after',
    seed: 62,
    temperature: 19,
    pulls: 11,
    truth: [
      'boost settles 16 kPa over its target',
      'cylinder 3 knocks by 4.5 degrees between 4600 and 5600 rpm in pulls 3, 6 and 9',
      'both banks get 2 % too little fuel, which the trims make up for',
    ],
    disturb(plant) {
      plant.boostOffset = 16;
      plant.fuelFactor = [0.98, 0.98];
      plant.knock = [{ cylinders: [3], retard: 4.5, from: 4600, to: 5600, pulls: [3, 6, 9] }];
    },
  },
];

/** A warm car: each run in third gear with a minute of cruise after it. */
function scriptOf(pulls: number): Phase[] {
  const phases: Phase[] = [
    { kind: 'idle', duration: 10, selector: 'D' },
    { kind: 'cruise', speed: 70, duration: 60 },
  ];
  for (let k = 0; k < pulls; k++)
    phases.push({ kind: 'pull', gear: 3, fromRpm: 2300, toRpm: 6700 }, { kind: 'cruise', speed: 65, duration: 25 });
  return phases;
}

const { values } = parseArgs({ options: { out: { type: 'string', default: 'test-data/sessions' } } });
mkdirSync(values.out, { recursive: true });
const car = carById('demo-saloon');
for (const { name, seed, temperature, pulls, disturb } of SESSIONS) {
  const sim = simulate({
    seed,
    car,
    warm: 92,
    ambient: { temperature, altitude: 230 },
    script: scriptOf(pulls),
    disturb(plant) {
      plant.knockRate = 0.02;
      disturb(plant);
    },
  });
  const channels = [...fullSet(car), ...fuelSet().map((id) => ({ id }))];
  const file = toCsv(record(sim, { seed, rate: 10, channels }), { ...PLAIN, gzip: true });
  writeFileSync(`${values.out}/${name}.csv.gz`, file.bytes);
  console.log(`${values.out}/${name}.csv.gz: ${file.rows} rows, ${(file.bytes.length / 1e6).toFixed(2)} MB`);
}
writeFileSync(`${values.out}/vehicle.yaml`, profileOf(car, {}));
writeFileSync(
  `${values.out}/expected.json`,
  `${JSON.stringify(Object.fromEntries(SESSIONS.map(({ name, seed, pulls, truth }) => [name, { seed, pulls, truth }])), null, 1)}\n`,
);
