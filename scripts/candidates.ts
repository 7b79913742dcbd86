// Writes test-data/candidates: three invented cars of one kind, as three sellers hand them over, with what is true of each.
// Usage: node scripts/run.mjs scripts/candidates.ts [--out FOLDER]
import { mkdirSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { emptySheet } from '@telltale/core';
import { carById } from './simulate/cars.js';
import { cylinderSet, fuelSet, fullSet } from './simulate/channel-sets.js';
import { toCsv } from './simulate/csv.js';
import { PLAIN } from './simulate/dialect.js';
import { type CarMemory, memoryFiles } from './simulate/memory.js';
import type { Plant } from './simulate/plant.js';
import { profileOf } from './simulate/profile.js';
import { Random } from './simulate/random.js';
import { record, type Tampering } from './simulate/record.js';
import type { Phase } from './simulate/script.js';
import { simulate } from './simulate/simulate.js';
import { deleted } from './simulate/tampering.js';

interface Candidate {
  readonly name: string;
  /** What is true of it, and what the answer has to be. */
  readonly truth: Readonly<Record<string, string | readonly string[]>>;
  readonly seed: number;
  readonly temperature: number;
  readonly claims: Readonly<Record<string, string | number | boolean>>;
  readonly disturb: (plant: Plant) => void;
  readonly memory: (memory: CarMemory) => void;
  readonly tampered?: readonly Tampering[];
  /** State and note by point of the sheet; the others are sound. */
  readonly seen: Readonly<Record<string, readonly [state: string, note: string]>>;
}

/** What an inspection drives, in the order of the plan. */
const SCRIPT: readonly Phase[] = [
  { kind: 'coldStart', keyOn: 4, duration: 40 },
  { kind: 'town', duration: 130, limit: 50 },
  { kind: 'stop', stand: 2 },
  { kind: 'idle', duration: 65 },
  { kind: 'selectorExercise', repeats: 4, hold: 4 },
  { kind: 'gentleGears', to: 110 },
  { kind: 'motorway', speed: 115, duration: 220 },
  { kind: 'lug', gear: 6, fromRpm: 1500, toRpm: 3000, pedal: 1 },
  { kind: 'lug', gear: 6, fromRpm: 1500, toRpm: 3000, pedal: 1 },
  { kind: 'rollingAcceleration', from: 65, to: 125, acceleration: 1.6, repeats: 3 },
  { kind: 'pull', gear: 3, fromRpm: 2200, toRpm: 6800 },
  { kind: 'pull', gear: 3, fromRpm: 2200, toRpm: 6800 },
  { kind: 'pull', gear: 3, fromRpm: 2200, toRpm: 6800 },
  { kind: 'cruise', speed: 80, duration: 60 },
  { kind: 'fullLock', duration: 40 },
  { kind: 'hotIdle', duration: 75, selector: 'P' },
  { kind: 'keyOff', duration: 12 },
];

function odometers(memory: CarMemory, km: number, others: number = km): void {
  memory.odometers = [
    { unit: 'Instrument cluster', km },
    { unit: 'Engine', km: others - 2 },
    { unit: 'Transmission', km: others - 6 },
    { unit: 'Brakes', km: others - 9 },
  ];
}

const CANDIDATES: readonly Candidate[] = [
  {
    name: 'sound',
    seed: 41,
    temperature: 14,
    truth: {
      about: 'a sound car: nothing wrong, nothing hidden',
      car: 'healthy',
      claims: 'true',
      recording: 'untouched, from a cold start',
    },
    claims: { distance: '38000 km', launches: 2, catalysts: 'original', coldStart: true },
    disturb(plant) {
      plant.fuelFactor = [1.015, 0.99];
    },
    memory(memory) {
      odometers(memory, 38_160);
      memory.launchCount = 2;
      memory.lastLaunch = 21_340;
      memory.sinceClear = { km: 17_840, warmUps: 254, minutes: 24_900 };
      memory.monitorsOpen = [];
      memory.batteryChange = 12;
      memory.ignitionCycles = 2410;
      memory.operatingHours = 816;
    },
    seen: { 'body.glass': ['sound', 'windscreen new last year, bill there'] },
  },
  {
    name: 'honest',
    seed: 42,
    temperature: 11,
    truth: {
      about: 'a worn car whose seller says so',
      car: ['bank 1 gets too little fuel (delivers 100/116)', '61 launches in 96 400 km', 'front tyres and discs worn'],
      claims: 'true',
      recording: 'untouched, from a cold start',
    },
    claims: { distance: '96000 km', launches: 61, coldStart: true },
    disturb(plant) {
      plant.fuelFactor = [1 / 1.16, 0.99];
    },
    memory(memory) {
      odometers(memory, 96_400);
      memory.launchCount = 61;
      memory.lastLaunch = 88_020;
      memory.sinceClear = { km: 9_120, warmUps: 251, minutes: 13_300 };
      memory.monitorsOpen = [];
      memory.batteryChange = 61_250;
      memory.ignitionCycles = 7020;
      memory.operatingHours = 2215;
      memory.codes = [
        {
          code: 'P0171',
          status: 'stored',
          unit: 'Engine',
          text: 'bank 1 lean',
          frame: { rpm: 820, coolant: 92, volts: 14.1 },
        },
      ];
    },
    seen: {
      'wheels.tyres': ['repair', 'front worn to 2 mm, inside edge'],
      'brakes.discs': ['watch', 'front discs with a lip'],
      'body.paint': ['watch', 'rear bumper painted, bill there'],
    },
  },
  {
    name: 'prepared',
    seed: 43,
    temperature: 16,
    truth: {
      about: 'a car prepared for sale',
      car: [
        'instrument shows 52 100 km, the other control units 118 600 km',
        '140 launches',
        'catalyst code permanent',
      ],
      claims: 'false: distance, launches, codes never cleared, catalysts original, presented cold',
      recording: ['engine run before the visit', 'codes cleared 9 km ago', 'minutes cut out and the clock closed up'],
    },
    claims: { distance: '52000 km', launches: 'never', codesCleared: 'never', catalysts: 'original', coldStart: true },
    disturb(plant) {
      plant.fuelFactor = [1.01, 1.02];
      plant.preheated = { coolant: 34, oil: 29, fluid: 17 };
    },
    memory(memory) {
      odometers(memory, 52_100, 118_600);
      memory.launchCount = 140;
      memory.lastLaunch = 51_000;
      memory.sinceClear = { km: 9, warmUps: 1, minutes: 14 };
      memory.monitorsOpen = ['Catalyst', 'Evaporative system', 'Oxygen sensor'];
      memory.batteryChange = 30_400;
      memory.ignitionCycles = 8110;
      memory.operatingHours = 2904;
      memory.codes = [{ code: 'P0420', status: 'permanent', unit: 'Engine', text: 'catalyst bank 1' }];
    },
    tampered: [deleted],
    seen: {
      'interior.wear': ['watch', 'wheel and seat far more worn than the distance says'],
      'papers.history': ['repair', 'no bill of the last four years'],
      'body.gaps': ['watch', 'tool marks on the screws of the left wing'],
    },
  },
];

function sheetOf(candidate: Candidate): string {
  return emptySheet().replace(
    /^( {2}([a-z]+\.[a-z]+): )\{ state: , note: '' \}$/gm,
    (_, head: string, point: string) => {
      const [state, note] = candidate.seen[point] ?? ['sound', ''];
      return `${head}{ state: ${state}, note: '${note}' }`;
    },
  );
}

function write(folder: string, candidate: Candidate): void {
  const car = carById('demo-saloon');
  const sim = simulate({
    seed: candidate.seed,
    car,
    ambient: { temperature: candidate.temperature, altitude: 230 },
    script: [...SCRIPT],
    disturb(plant) {
      plant.knockRate = 0.03;
      candidate.disturb(plant);
      candidate.memory(plant.memory);
    },
  });
  const channels = [
    ...fullSet(car),
    ...[...cylinderSet(car), ...fuelSet()].map((id) => ({ id })),
    { id: 'lateralAcceleration' },
    { id: 'engineRunTime', refresh: 1 },
  ];
  const spec = { seed: candidate.seed, rate: 10, channels, tampered: candidate.tampered ?? [] };
  const file = toCsv(record(sim, spec), { ...PLAIN, gzip: true });
  const to = `${folder}/${candidate.name}`;
  mkdirSync(to, { recursive: true });
  writeFileSync(`${to}/drive.csv.gz`, file.bytes);
  const read = memoryFiles(sim.plant.memory, new Random(candidate.seed, 35), sim.car.engine.revLimit);
  writeFileSync(`${to}/stored-values.csv`, read.stored);
  writeFileSync(`${to}/codes.csv`, read.codes);
  const claims = Object.fromEntries(Object.entries(candidate.claims).map(([key, value]) => [key, String(value)]));
  writeFileSync(`${to}/vehicle.yaml`, profileOf(car, claims).replace('id: demo-saloon', `id: ${candidate.name}`));
  writeFileSync(`${to}/sheet.yaml`, sheetOf(candidate));
  console.log(`${to}: ${file.rows} rows, ${(file.bytes.length / 1e6).toFixed(2)} MB`);
}

const PRICES = `schema: telltale/prices@1
currency: EUR
# The buyer's own prices: what a workshop of his asks.
prices:
  fuel.trim: [250, 900]
  usage.launches: [500, 1500]
  wheels.tyres: [600, 800]
  brakes.discs: [450, 700]
  codes.stored: [0, 200]
  provenance: [0, 0]
`;

const { values } = parseArgs({ options: { out: { type: 'string', default: 'test-data/candidates' } } });
for (const candidate of CANDIDATES) write(values.out, candidate);
writeFileSync(`${values.out}/prices.yaml`, PRICES);
writeFileSync(
  `${values.out}/expected.json`,
  `${JSON.stringify(Object.fromEntries(CANDIDATES.map(({ name, seed, truth }) => [name, { seed, ...truth }])), null, 1)}\n`,
);
