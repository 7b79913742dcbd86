import { describe, expect, it } from 'vitest';
import {
  type Ambient,
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
import type { Told } from '../transmission/gears.js';

interface Day {
  /** N of the rear brakes, always. */
  readonly drag?: number;
  readonly ambient?: Partial<Ambient>;
  /** Coasts in neutral (default 4). */
  readonly coasts?: number;
  /** Slope of the road during the coasts, one after the other. */
  readonly grades?: readonly number[];
  readonly leave?: readonly string[];
}

const CAR = 'demo-saloon';

/** One day: through the gears, then coasts in neutral from 95 to 62 km/h. */
function driven(seed: number, { drag = 0, ambient = {}, coasts = 4, grades = [0] }: Day): Simulation {
  return simulate({
    seed,
    car: carById(CAR),
    ambient: { temperature: 17, altitude: 100, ...ambient },
    script: [
      { kind: 'hotIdle', duration: 5 },
      { kind: 'gentleGears', to: 40, acceleration: 0.8 },
      { kind: 'stop', stand: 3, deceleration: 0.8 },
      { kind: 'gentleGears', to: 110, acceleration: 0.9 },
      ...Array.from({ length: coasts }, (_, k) => [
        { kind: 'cruise' as const, speed: 98, duration: 4 },
        { kind: 'coast' as const, to: 62, neutral: true, grade: grades[k % grades.length]! },
      ]).flat(),
      { kind: 'stop', stand: 4, deceleration: 0.8 },
    ],
    disturb: (plant) => {
      plant.brakeDrag = drag;
    },
  });
}

/** Simulated once, however often it is told. */
const simulations = new Map<string, Simulation>();

function recorded(seed: number, { leave = [], ...day }: Day): Uint8Array {
  const key = `${seed} ${JSON.stringify(day)}`;
  const sim = simulations.get(key) ?? driven(seed, day);
  simulations.set(key, sim);
  const channels = fullSet(sim.car).filter(({ id }) => !leave.includes(id));
  return toCsv(record(sim, { seed, channels, rate: 10 }), PLAIN).bytes;
}

async function judged(days: readonly Day[]): Promise<Told> {
  const vehicle = readProfile(profileOf(carById(CAR)), 'profile');
  if (!vehicle.ok) throw new Error('profile');
  const inputs = days.map((day, k) => ({ name: `${k}.csv`, source: recorded(40 + k, day) }));
  const { results } = await assess(inputs, { vehicle: vehicle.value, only: ['driveline.wheel-speed'] });
  return results[0] as unknown as Told;
}

describe('driveline.wheel-speed and a brake that drags, on simulated drives', () => {
  it('measures how the car rolls freely: rolling and drag of the simulated car within 10 %', async () => {
    const { measures } = await judged([{}, {}, {}]);
    // 0.0125 g and the drag of the car at 60 km/h.
    const { dragArea, mass, rolling } = carById(CAR).body;
    const truth = rolling * 9.80665 + (0.5 * 1.21 * dragArea * (60 / 3.6) ** 2) / mass;
    expect(Math.abs((measures!.coastDownUsual!.value as number) / truth - 1)).toBeLessThan(0.1);
    expect(Math.abs(measures!.coastDownRise!.value as number)).toBeLessThan(10);
  });

  it('finds a drive in which it slows down far more than usual, says when, by how much and the usual', async () => {
    const found = await judged([{}, { drag: 500 }, {}, {}]);
    expect(found).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(found.summary).toMatch(/[Rr]olling freely it slows down by .* more than usual for this car/);
    expect(found.events).toHaveLength(4);
    expect(found.events![0]).toMatchObject({ input: 1, what: 'rolls worse than usual', severity: 'watch' });
  });

  it('stays silent where all drives roll alike, in wind, over hills, by other warmth', async () => {
    const days: Day[] = [
      { ambient: { wind: 3, temperature: 28 } },
      { ambient: { wind: -3, temperature: 2 } },
      { grades: [0.01, -0.01] },
      { grades: [-0.008, 0.012] },
    ];
    expect(await judged(days)).toMatchObject({ outcome: 'clear' });
  });

  it('says that a dragging brake is not shown by two drives, few coasts, or without the brake switch', async () => {
    const dragging = { drag: 500 };
    for (const days of [
      [{}, dragging],
      [{}, {}, { ...dragging, coasts: 2 }],
      [{}, {}, { ...dragging, leave: ['brakeSwitch'] }],
    ]) {
      const { outcome, summary, measures } = await judged(days);
      expect([outcome, summary]).toEqual(['clear', expect.stringMatching(/a dragging brake is not shown/)]);
      expect(measures!.coastDown).toBeUndefined();
    }
  });
});
