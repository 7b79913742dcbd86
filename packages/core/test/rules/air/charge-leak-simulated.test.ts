import { describe, expect, it } from 'vitest';
import {
  CARS,
  type DriveWish,
  drawDrive,
  type Phase,
  record,
  type Simulation,
  simulate,
  toCsv,
} from '../../../../../scripts/simulate/index.js';
import { assess, readProfile } from '../../../src/index.js';

interface Judged {
  readonly sim: Simulation;
  readonly outcome: string;
  readonly summary: string;
  readonly measures: Readonly<Record<string, { readonly value: number } | undefined>>;
}

const RULE = 'air.charge-leak';
const pedalLetGo: Phase[] = [
  { kind: 'tipIn', times: 8 },
  { kind: 'circuit', duration: 60 },
];

/** One short drive: off boost at several speeds and loads, the pedal let go often, then pulls at full pedal. */
async function judged(wish: DriveWish): Promise<Judged> {
  const car = CARS[wish.seed % CARS.length]!;
  const drawn = drawDrive({ ...wish, kind: 'inspection', car: car.id, rate: 10 });
  const gear = car.transmission.gears.length > 6 ? 4 : 3;
  const pull: Phase = { kind: 'pull', gear, fromRpm: 2100, toRpm: car.engine.revLimit - 400 };
  const cruise = (speed: number): Phase => ({ kind: 'cruise', speed, duration: 15 });
  const script: Phase[] = [
    { kind: 'hotIdle', duration: 15, selector: 'P' },
    { kind: 'gentleGears', to: 110 },
    ...[50, 70, 90, 110].map(cruise),
    { kind: 'rollingAcceleration', from: 65, to: 110, acceleration: 1, repeats: 2 },
    ...pedalLetGo,
    pull,
    cruise(80),
    pull,
    cruise(80),
    pull,
    cruise(80),
  ];
  const sim = simulate({ ...drawn.spec, script });
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('profile');
  const { bytes } = toCsv(record(sim, drawn.record), drawn.dialect);
  const { results } = await assess([{ name: 'drive.csv', source: bytes }], { vehicle: profile.value, only: [RULE] });
  const result = results[0]!;
  const { measures } = result as unknown as Pick<Judged, 'measures'>;
  return { sim, outcome: result.outcome, summary: result.summary, measures };
}

const SEEDS = Array.from({ length: 6 }, (_, k) => 6100 + 13 * k);

describe(`charge leak on ${SEEDS.length} simulated drives of different cars`, () => {
  it('finds 8 % of the rated flow, each time', async () => {
    const cars = new Set<string>();
    for (const seed of SEEDS) {
      const { sim, ...found } = await judged({ seed, faults: [{ rule: RULE, level: 'repair', dial: 0 }] });
      expect(sim.plant.chargeLeak).toBeCloseTo(0.08, 6);
      cars.add(sim.car.id);
      expect.soft(found.outcome, `seed ${seed}: ${found.summary}`).toBe('finding');
    }
    expect(cars.size).toBeGreaterThanOrEqual(3);
  }, 120_000);

  it('never blames a healthy dump valve to the outside, while the air that it blows off is metered', async () => {
    const told: string[] = [];
    for (const seed of SEEDS) {
      const { sim, ...found } = await judged({ seed, decoys: [{ rule: RULE, name: 'ventedDump' }] });
      expect(sim.plant.ventedDump).toBeGreaterThan(0.2);
      expect.soft(found.outcome, `seed ${seed}: ${found.summary}`).not.toBe('finding');
      told.push(found.outcome);
    }
    // Silence for want of data would prove nothing.
    expect(told.filter((each) => each === 'clear').length).toBeGreaterThanOrEqual(SEEDS.length - 1);
  }, 120_000);
});
