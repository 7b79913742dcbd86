import { describe, expect, it } from 'vitest';
import {
  carById,
  fullSet,
  PLAIN,
  profileOf,
  record,
  type Simulation,
  simulate,
  toCsv,
} from '../../../../../scripts/simulate/index.js';
import { assess, readProfile } from '../../../src/index.js';
import type { Told } from './gears.js';

/** Fresh values per second that each question takes, and the car that shows it; the others are answered from 1 Hz on. */
const NEEDS: Readonly<Record<string, number>> = {
  'transmission.clutch-slip': 3,
  'transmission.selection': 4,
  'transmission.shift-quality': 20,
  'transmission.pressure': 3,
  'transmission.judder': 40,
  'transmission.lock-up': 1.5,
  'driveline.front-drive': 6,
  'driveline.low-speed-hop': 30,
  'driveline.wheel-speed': 5,
};
const ANSWERED = [
  'transmission.over-temperature',
  'transmission.gear-coverage',
  'transmission.ratio',
  'driveline.tyre-circumference',
];

/** Every phase that the transmission and driveline rules ask for. */
function driven(id: string): Simulation {
  const pull = { kind: 'pull', gear: 3, fromRpm: 2000, toRpm: 5600 } as const;
  return simulate({
    seed: 77,
    car: carById(id),
    ambient: { temperature: 17, altitude: 100 },
    script: [
      { kind: 'hotIdle', duration: 10, selector: 'P' },
      { kind: 'selectorExercise', repeats: 3, hold: 4 },
      { kind: 'gentleGears', to: 120, acceleration: 0.9 },
      { kind: 'motorway', speed: 120, duration: 60 },
      { kind: 'cruise', speed: 75, duration: 170 },
      { kind: 'stop', stand: 4 },
      { kind: 'town', duration: 120, limit: 50 },
      { kind: 'rollingAcceleration', from: 40, to: 110, acceleration: 1.6, repeats: 4 },
      pull,
      pull,
      { kind: 'stop', stand: 4 },
      { kind: 'fullLock', duration: 40 },
      { kind: 'stop', stand: 4 },
    ],
  });
}

/** Answers by rule of the drive in rows of that rate, where every channel comes fresh `refresh` times a second at most. */
async function answers(sim: Simulation, rate: number, refresh = rate): Promise<Map<string, Told>> {
  const channels = fullSet(sim.car).map((each) => ({ ...each, refresh: Math.min(refresh, each.refresh ?? refresh) }));
  const { bytes } = toCsv(record(sim, { seed: 5, channels, rate }), PLAIN);
  const vehicle = readProfile(profileOf(sim.car), 'profile');
  if (!vehicle.ok) throw new Error('profile');
  const only = [...Object.keys(NEEDS), ...ANSWERED];
  const { results } = await assess([{ name: 'drive.csv', source: bytes }], { vehicle: vehicle.value, only });
  return new Map(results.map((result) => [result.rule, result as unknown as Told]));
}

describe.each(['demo-saloon', 'demo-tourer'])('slow logs of the simulated %s', (id) => {
  const sim = driven(id);

  it.each([
    [1, 1],
    [2, 2],
    [10, 1],
    [10, 2],
    [5, 4],
  ])(
    'in rows of %i Hz with %i fresh values a second: what needs more is unproven and names its rate',
    async (rows, refresh) => {
      const told = await answers(sim, rows, refresh);
      for (const [rule, needed] of Object.entries(NEEDS)) {
        const { outcome, missing } = told.get(rule)!;
        if (outcome === 'not-applicable' || refresh >= 0.95 * needed) continue;
        const rates = (missing?.conditions ?? []).map((condition) =>
          Number(/ at >= ([\d.]+) Hz$/.exec(condition)?.[1]),
        );
        expect([rule, outcome, rates.includes(needed)]).toEqual([rule, 'unproven', true]);
      }
      for (const rule of ANSWERED) expect([rule, told.get(rule)!.outcome]).toEqual([rule, 'clear']);
    },
  );
});
