import { carById } from './cars.js';
import { fullSet } from './channel-sets.js';
import { type Dialect, PLAIN } from './dialect.js';
import type { Plant } from './plant.js';
import { profileOf } from './profile.js';
import type { RecordSpec } from './record.js';
import type { DriveSpec } from './simulate.js';

export interface Scenario {
  readonly about: string;
  readonly drive: DriveSpec;
  readonly record: RecordSpec;
  readonly dialect: Dialect;
  readonly profile: string;
}

/**
 * The demo: an invented all-wheel-drive saloon, seen by a buyer. Cold start, selector, town, every gear, motorway, two
 * pulls, two launches; then the fluid climbs to about 131 degC, bank 1 is a little lean, nothing knocks.
 */
function demo(seed: number): Scenario {
  const car = carById('demo-saloon');
  const drive: DriveSpec = {
    seed,
    car,
    ambient: { temperature: 17, altitude: 210 },
    script: [
      { kind: 'coldStart', keyOn: 3, duration: 25 },
      { kind: 'selectorExercise', repeats: 3, hold: 4 },
      { kind: 'town', duration: 170, limit: 50 },
      { kind: 'gentleGears', to: 110, acceleration: 0.8 },
      { kind: 'motorway', speed: 118, duration: 100 },
      { kind: 'rollingAcceleration', from: 70, to: 130, acceleration: 1.6, repeats: 3 },
      { kind: 'cruise', speed: 80, duration: 30 },
      { kind: 'pull', gear: 3, fromRpm: 2200, toRpm: 6300 },
      { kind: 'pull', gear: 3, fromRpm: 2200, toRpm: 6300 },
      { kind: 'stop', stand: 6 },
      { kind: 'launch', to: 100 },
      { kind: 'cruise', speed: 60, duration: 25 },
      { kind: 'stop', stand: 6 },
      { kind: 'launch', to: 100 },
      { kind: 'circuit', duration: 55, top: 150, corner: 70, tag: 'demo-heat' },
      { kind: 'cruise', speed: 60, duration: 60 },
      { kind: 'fullLock', duration: 24 },
      { kind: 'hotIdle', duration: 60, selector: 'P' },
    ],
    disturb: (plant: Plant) => {
      remember(plant);
      plant.overheats.push({ tag: 'demo-heat', peak: 131.2, dwell: 9, rise: 0.7, where: 'fluid' });
      plant.fuelFactor = [1 / 1.118, 1];
      plant.knockRate = 0.03;
    },
  };
  const channels = fullSet(car)
    .filter((c) => c.id !== 'boostPressureTarget' && c.id !== 'ambientTemperature' && c.id !== 'boostPressure')
    .map((c) =>
      c.id.startsWith('wheelSpeed') ? { ...c, quantum: 0.1 } : c.id === 'vehicleSpeed' ? { ...c, quantum: 0.1 } : c,
    );
  return {
    about: 'an invented saloon seen by a buyer: warm launches, fluid too hot, bank 1 slightly lean, no knock',
    drive,
    record: { seed, rate: 10, channels },
    dialect: PLAIN,
    profile: profileOf(car, { power: '400 kW', launches: 0, distance: '42000 km' }),
  };
}

/** What the control units of the demo car remember: used hard, heated before, and nobody hid it. */
function remember({ memory }: Plant): void {
  const km = 41_950;
  memory.odometers = [
    { unit: 'Instrument cluster', km },
    { unit: 'Engine', km: km - 3 },
    { unit: 'Transmission', km: km - 8 },
    { unit: 'Brakes', km: km - 11 },
  ];
  memory.launchCount = 37;
  memory.lastLaunch = 41_702;
  memory.sinceClear = { km: 3120, warmUps: 141, minutes: 4460 };
  memory.monitorsOpen = [];
  memory.batteryChange = 20_400;
  memory.ignitionCycles = 2980;
  memory.operatingHours = 871;
  memory.codes = [
    {
      code: 'P0218',
      status: 'stored',
      unit: 'Transmission',
      text: 'fluid hot',
      frame: { rpm: 5240, coolant: 98, volts: 14.1 },
    },
    {
      code: 'P0171',
      status: 'pending',
      unit: 'Engine',
      text: 'bank 1 lean',
      frame: { rpm: 810, coolant: 91, volts: 14.2 },
    },
  ];
}

/** A healthy drive of the same car, for comparison. */
function healthy(seed: number): Scenario {
  const base = demo(seed);
  const { disturb: _none, ...rest } = base.drive;
  return {
    ...base,
    about: 'the demo car without faults',
    drive: { ...rest, script: rest.script.filter((p) => p.kind !== 'launch') },
  };
}

export const SCENARIOS: Readonly<Record<string, (seed: number) => Scenario>> = { demo, healthy };
