import { describe, expect, it } from 'vitest';
import {
  type CarSpec,
  carById,
  fullSet,
  PLAIN,
  profileOf,
  record,
  rollingRadius,
  simulate,
  toCsv,
} from '../../../../../scripts/simulate/index.js';
import { assess, readProfile } from '../../../src/index.js';
import type { Told } from './gears.js';

/** Every gear held for some seconds; cruises hold the gears that a steady acceleration only passes through. */
function drive(car: CarSpec, cruises: readonly number[] = []): ReturnType<typeof simulate> {
  return simulate({
    seed: 5,
    car,
    ambient: { temperature: 17, altitude: 100 },
    script: [
      { kind: 'hotIdle', duration: 10, selector: 'P' },
      { kind: 'gentleGears', to: 130, acceleration: 0.8 },
      { kind: 'motorway', speed: 128, duration: 20 },
      ...cruises.map((speed) => ({ kind: 'cruise' as const, speed, duration: 10 })),
      { kind: 'stop', stand: 4 },
      { kind: 'gentleGears', to: 110, acceleration: 0.7 },
      { kind: 'stop', stand: 4 },
    ],
  });
}

async function judged(sim: ReturnType<typeof simulate>, profile: string, leave: readonly string[] = []): Promise<Told> {
  const channels = fullSet(sim.car).filter(({ id }) => !leave.includes(id));
  const { bytes } = toCsv(record(sim, { seed: 5, channels, rate: 10 }), PLAIN);
  const vehicle = readProfile(profile, 'profile');
  if (!vehicle.ok) throw new Error(vehicle.faults.map(({ message }) => message).join('; '));
  const found = await assess([{ name: 'drive.csv', source: bytes }], {
    vehicle: vehicle.value,
    only: ['transmission.ratio'],
  });
  return found.results[0] as unknown as Told;
}

/** rpm per km/h of each gear as it was simulated. */
function truthOf({ transmission: { gears, finalDrive }, driveline: { tyreFront, tyreRear } }: CarSpec): number[] {
  const rolled = Math.PI * (rollingRadius(tyreFront) + rollingRadius(tyreRear));
  return gears.map((gear) => (gear * finalDrive * 1000) / 60 / rolled);
}

describe('a converter gearbox of ten gears, steps down to 1.08', () => {
  const base = carById('demo-tourer');
  const gears = [4.7, 3.0, 2.15, 1.77, 1.52, 1.28, 1.0, 0.85, 0.69, 0.64];
  const car = { ...base, transmission: { ...base.transmission, gears } };

  it.each([
    ['with a gear column', []],
    ['by engine over road speed alone', ['gear', 'gearTarget', 'inputShaftSpeed', 'outputShaftSpeed', 'converterSlip']],
  ])('%s: ten gears, each within its uncertainty, every step that of the profile', async (_, leave) => {
    const result = await judged(drive(car, [90, 70, 60]), profileOf(car), leave);
    expect(result).toMatchObject({ outcome: 'clear', measures: { gears: { value: 10 } } });
    const { ratios } = (result as unknown as { details: { ratios: { gear: number; rpmPerKmh: number; u: number }[] } })
      .details;
    expect(ratios.map(({ gear }) => gear)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
    const truth = truthOf(car);
    for (const { gear, rpmPerKmh, u } of ratios) {
      expect(Math.abs(rpmPerKmh - truth[gear - 1]!)).toBeLessThan(2 * u);
      // First gear behind an open converter is known to a few percent only, and says so.
      if (gear > 1) expect(u / rpmPerKmh).toBeLessThan(0.006);
    }
  });
});

describe('a tyre size in the profile that is not the one on the car', () => {
  it.each([
    ['demo-saloon', '195/50R15'],
    ['demo-hatch', '265/45R21'],
    ['demo-roadster', '195/45R15'],
  ])('%s with %s: a question about tyre and final drive, no level, steps untouched', async (id, size) => {
    const car = carById(id);
    const other = { ...car, driveline: { ...car.driveline, tyreFront: size, tyreRear: size } };
    const expected = 100 * (truthOf(car)[0]! / truthOf(other)[0]! - 1);
    expect(Math.abs(expected)).toBeGreaterThan(8);
    const sim = drive(car);
    const [right, wrong] = [await judged(sim, profileOf(car)), await judged(sim, profileOf(other))];
    for (const result of [right, wrong]) expect(result).toMatchObject({ outcome: 'clear' });
    expect(right.notes?.join(' ') ?? '').not.toMatch(/tyres/);
    expect(wrong.notes?.join(' ')).toMatch(/ask which tyres and which final drive are fitted/);
    expect(Math.abs((wrong.measures!.overall!.value as number) - expected)).toBeLessThan(1.5);
    expect(wrong.measures!.step!.value as number).toBeCloseTo(right.measures!.step!.value as number, 6);
  });
});
