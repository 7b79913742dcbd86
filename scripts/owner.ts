// Writes the months of one owner: a drive a month of one invented car, through the seasons, with wear of known size.
// Usage: node scripts/run.mjs scripts/owner.ts [--months N] [--seed S] [--out FOLDER], then telltale track add FOLDER
import { mkdirSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { carById } from './simulate/cars.js';
import { fuelSet, fullSet } from './simulate/channel-sets.js';
import { toCsv } from './simulate/csv.js';
import { PLAIN } from './simulate/dialect.js';
import { profileOf } from './simulate/profile.js';
import { record } from './simulate/record.js';
import type { Phase } from './simulate/script.js';
import { simulate } from './simulate/simulate.js';

const { values } = parseArgs({
  options: {
    months: { type: 'string', default: '26' },
    seed: { type: 'string', default: '900' },
    out: { type: 'string', default: 'owner' },
  },
});
const [months, seed] = [Number(values.months), Number(values.seed)];

/** What is true: bank 1 gets less and less fuel from the tenth month on, the battery's resistance grows from the first. */
const WEAR = {
  fuel: (month: number) => 1 - 0.004 * Math.max(0, month - 10),
  battery: (month: number) => 1 + 0.012 * month,
};

/** Half an hour of a usual month: cold start, town, road, a pull, hot idle. */
const SCRIPT: readonly Phase[] = [
  { kind: 'coldStart', keyOn: 4, duration: 60 },
  { kind: 'town', duration: 200, limit: 50 },
  { kind: 'cruise', speed: 80, duration: 150 },
  { kind: 'pull', gear: 3, fromRpm: 2300, toRpm: 6000 },
  { kind: 'cruise', speed: 65, duration: 60 },
  { kind: 'stop', stand: 5 },
  { kind: 'hotIdle', duration: 60 },
];

mkdirSync(values.out, { recursive: true });
const car = carById('demo-saloon');
const truth: Record<string, unknown>[] = [];
for (let month = 0; month < months; month++) {
  const temperature = Math.round(11 - 9 * Math.cos((2 * Math.PI * (month + 0.5)) / 12) + ((month * 7) % 5) - 2);
  const [fuel, battery] = [WEAR.fuel(month), WEAR.battery(month)];
  const sim = simulate({
    seed: seed + month,
    car,
    ambient: { temperature, altitude: 230 },
    script: SCRIPT,
    disturb(plant) {
      plant.fuelFactor = [fuel, 1];
      plant.batteryResistance = battery;
    },
  });
  const channels = [...fullSet(car), ...fuelSet().map((id) => ({ id }))];
  const file = toCsv(record(sim, { seed: seed + month, rate: 10, channels }), { ...PLAIN, gzip: true });
  const date = `${2023 + Math.floor(month / 12)}-${String((month % 12) + 1).padStart(2, '0')}-${String(8 + ((month * 5) % 14)).padStart(2, '0')}`;
  const name = `${date}.csv.gz`;
  writeFileSync(`${values.out}/${name}`, file.bytes);
  truth.push({ file: name, date, temperature, fuel, battery });
  console.log(`${values.out}/${name}: ${file.rows} rows at ${temperature} °C`);
}
writeFileSync(`${values.out}/vehicle.yaml`, profileOf(car, {}));
writeFileSync(`${values.out}/truth.json`, `${JSON.stringify({ seed, months: truth }, null, 1)}\n`);
