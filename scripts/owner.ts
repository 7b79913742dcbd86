// Writes the months of one owner: a drive a month of one invented car, through the seasons, with wear of known size.
// Usage: node scripts/run.mjs scripts/owner.ts [--months N] [--seed S] [--out FOLDER], then telltale track add FOLDER
//        node scripts/run.mjs scripts/owner.ts --book test-data/demo.book.sqlite: the same as a finished book, with its truth beside
import { createHash } from 'node:crypto';
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { assess, type Drive, type LogbookNote, logbookEntry, readProfile } from '@telltale/core';
import { openBook } from '../packages/cli/src/book/open.js';
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
    months: { type: 'string', default: '28' },
    seed: { type: 'string', default: '900' },
    out: { type: 'string', default: 'owner' },
    book: { type: 'string' },
  },
});
const [months, seed] = [Number(values.months), Number(values.seed)];

/** What is true: bank 1 gets less and less fuel from the tenth month on, the battery's resistance grows from the first. */
const WEAR = {
  fuel: (month: number) => 1 - 0.004 * Math.max(0, month - 10),
  battery: (month: number) => 1 + 0.012 * month,
};
const TRUTH = {
  'fuel.trim.idle.bank1': { direction: 'higher', from: dateOf(10) },
  'fuel.trim.cruise.bank1': { direction: 'higher', from: dateOf(10) },
  // What the trim adds, the injectors of that bank stay open for.
  'fuel.injector-duty.angle': { direction: 'higher', from: dateOf(10) },
  'electrical.charging.crank': { direction: 'lower', from: dateOf(0) },
};

/** Half an hour of a usual month: cold start, town, road, motorway, a pull, rolling in neutral, hot idle. */
const SCRIPT: readonly Phase[] = [
  { kind: 'coldStart', keyOn: 4, duration: 60 },
  { kind: 'town', duration: 200, limit: 50 },
  { kind: 'cruise', speed: 80, duration: 150 },
  { kind: 'gentleGears', to: 110 },
  { kind: 'cruise', speed: 110, duration: 420 },
  { kind: 'pull', gear: 3, fromRpm: 2300, toRpm: 6000 },
  ...[0, 1, 2].flatMap((): Phase[] => [
    { kind: 'cruise', speed: 82, duration: 20 },
    { kind: 'coast', to: 40, neutral: true },
  ]),
  { kind: 'cruise', speed: 65, duration: 60 },
  { kind: 'stop', stand: 5 },
  { kind: 'hotIdle', duration: 60 },
];

const CAR = 'our-saloon';
const car = carById('demo-saloon');
const profile = profileOf(car, {}).replace(`id: ${car.id}`, `id: ${CAR}`);
const NOTES: readonly (Pick<LogbookNote, 'kind' | 'text'> & { readonly month: number })[] = [
  { month: 3, kind: 'oil', text: '5W-40 and filter' },
  { month: 8, kind: 'fluid', text: 'fluid and filter of the gearbox' },
  { month: 15, kind: 'oil', text: '5W-40 and filter' },
  { month: 15, kind: 'tyres', text: 'all four' },
  { month: 26, kind: 'oil', text: '5W-40 and filter' },
];

interface Month {
  readonly month: number;
  readonly date: string;
  readonly name: string;
  readonly temperature: number;
  readonly distance: number;
  readonly bytes: Uint8Array;
}

function dateOf(month: number): string {
  return `${2023 + Math.floor(month / 12)}-${String((month % 12) + 1).padStart(2, '0')}-${String(8 + ((month * 5) % 14)).padStart(2, '0')}`;
}

function distanceOf(month: number): number {
  return 61_200 + 1150 * month + 37 * ((month * 5) % 9);
}

function driven(month: number): Month {
  const temperature = Math.round(11 - 9 * Math.cos((2 * Math.PI * (month + 0.5)) / 12) + ((month * 7) % 5) - 2);
  const distance = distanceOf(month);
  const sim = simulate({
    seed: seed + month,
    car,
    ambient: { temperature, altitude: 230 },
    script: SCRIPT,
    disturb(plant) {
      plant.fuelFactor = [WEAR.fuel(month), 1];
      plant.batteryResistance = WEAR.battery(month);
      plant.memory.odometers = plant.memory.odometers.map((each) => ({ ...each, km: distance }));
    },
  });
  const added = [...fuelSet(), 'odometer', 'chargeAirTemperature', 'wastegateDuty'].map((id) => ({ id }));
  const channels = [...fullSet(car), ...added];
  const { bytes } = toCsv(record(sim, { seed: seed + month, rate: 10, channels }), { ...PLAIN, gzip: true });
  const date = dateOf(month);
  return { month, date, name: `${date}.csv.gz`, temperature, distance, bytes };
}

/** The logs, a profile and the truth in a folder. */
function writeFolder(): void {
  mkdirSync(values.out, { recursive: true });
  const truth: Record<string, unknown>[] = [];
  for (let month = 0; month < months; month++) {
    const { date, name, temperature, distance, bytes } = driven(month);
    writeFileSync(`${values.out}/${name}`, bytes);
    truth.push({ file: name, date, temperature, distance, fuel: WEAR.fuel(month), battery: WEAR.battery(month) });
    console.log(`${values.out}/${name}: ${bytes.length} bytes at ${temperature} °C`);
  }
  writeFileSync(`${values.out}/vehicle.yaml`, profile);
  writeFileSync(`${values.out}/truth.json`, `${JSON.stringify({ seed, drifts: TRUTH, months: truth }, null, 1)}\n`);
}

/** A book as these months leave it, and the truth beside it. */
async function writeBook(path: string): Promise<void> {
  const vehicle = readProfile(profile, 'profile');
  if (!vehicle.ok) throw new Error('the profile is not understood');
  const work = `${path}.work`;
  for (const each of [path, work]) rmSync(each, { force: true });
  const book = await openBook(work, 'create');
  // The same book each time: the key of a demo keeps no secret.
  await book.adoptSecret(createHash('sha256').update('demo').digest('hex'));
  await book.setProfile(CAR, JSON.stringify(vehicle.value));
  for (let month = 0; month < months; month++) {
    const { date, name, bytes } = driven(month);
    const drives: Drive[] = [];
    const assessment = await assess([{ name, source: bytes }], {
      vehicle: vehicle.value,
      onDrive: (drive) => void drives.push(drive),
    });
    const entry = logbookEntry(assessment, drives, {
      hash: createHash('sha256').update(bytes).digest('hex'),
      car: CAR,
      recordedAt: date,
    });
    await book.add([{ ...entry, provenance: { file: name, version: '0.1.0', addedAt: `${date}T19:00:00` } }]);
    console.log(`${date}: ${entry.measures.length} measures, ${entry.distance} km, ${entry.summary.level}`);
  }
  for (const { month, kind, text } of NOTES)
    if (month < months)
      await book.note({ car: CAR, date: `${dateOf(month).slice(0, 8)}02`, distance: distanceOf(month), kind, text });
  await book.backup(path);
  await book.close();
  rmSync(work, { force: true });
  writeFileSync(path.replace(/\.sqlite$/, '.json'), `${JSON.stringify({ seed, months, drifts: TRUTH }, null, 1)}\n`);
}

if (values.book === undefined) writeFolder();
else await writeBook(values.book);
