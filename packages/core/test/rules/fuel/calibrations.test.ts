import { describe, expect, it } from 'vitest';
import { drawDrive, fullSet, type Plant, record, simulate, toCsv } from '../../../../../scripts/simulate/index.js';
import { assess } from '../../../src/engine/assess.js';
import { readProfile } from '../../../src/vehicle/profile.js';

interface Calibration {
  readonly name: string;
  readonly car: string;
  readonly seed: number;
  readonly fullLoadLambda: number;
  /** As the profile names it. */
  readonly fuel: 'E10' | 'E85';
  readonly disturb?: (plant: Plant) => void;
  /** Further channels. */
  readonly channels?: readonly string[];
  /** The trims are lean alike, as the fuel asks for. */
  readonly explained?: boolean;
}

const CALIBRATIONS: readonly Calibration[] = [
  { name: 'modern, stoichiometric at full load', car: 'demo-tourer', seed: 71, fullLoadLambda: 1, fuel: 'E10' },
  {
    name: 'modern, enriched only to protect, after three seconds',
    car: 'demo-coupe',
    seed: 72,
    fullLoadLambda: 0.92,
    fuel: 'E10',
    disturb: (plant) => {
      plant.enrichAfter = 3;
    },
  },
  { name: 'rich', car: 'demo-saloon', seed: 73, fullLoadLambda: 0.78, fuel: 'E10' },
  {
    name: 'ethanol with a content sensor',
    car: 'demo-hatch',
    seed: 74,
    fullLoadLambda: 0.8,
    fuel: 'E85',
    channels: ['ethanolContent'],
    disturb: (plant) => {
      plant.ethanol = 0.81;
    },
  },
  {
    name: 'ethanol in an engine mapped for petrol that corrects by its trims',
    car: 'demo-estate',
    seed: 75,
    fullLoadLambda: 0.84,
    fuel: 'E85',
    explained: true,
    disturb: (plant) => {
      plant.fuelNeed = 1.24;
    },
  },
];

const MIXTURE = ['fuel.lambda-load', 'fuel.trim'];

/** The whole way: simulated drive with full-load pulls, written as a file, read, judged with its profile. */
async function judged({ car, seed, fullLoadLambda, fuel, disturb, channels = [] }: Calibration, only: string[] = []) {
  const drawn = drawDrive({ seed, car, kind: 'inspection', plain: true, rate: 10 });
  const spec = drawn.spec.car as Exclude<typeof drawn.spec.car, string>;
  const sim = simulate({
    ...drawn.spec,
    car: { ...spec, engine: { ...spec.engine, fullLoadLambda } },
    disturb: (plant) => {
      drawn.spec.disturb?.(plant);
      disturb?.(plant);
    },
  });
  const logged = record(sim, { ...drawn.record, channels: [...fullSet(spec), ...channels] });
  const profile = readProfile(drawn.profile.replace(/fuel: E\d+/, `fuel: ${fuel}`), 'profile');
  if (!profile.ok) throw new Error('profile');
  const { results, chains } = await assess([{ name: 'drive.csv', source: toCsv(logged, drawn.dialect).bytes }], {
    vehicle: profile.value,
    only,
  });
  return { results, chains, lean: sim.truth.lean };
}

describe('calibrations that are as they should be', () => {
  it.each(CALIBRATIONS)('$name: sound', async (calibration) => {
    const { results, chains, lean } = await judged(calibration);
    // Full load was driven, or the answer would mean nothing.
    expect(lean.seconds).toBeGreaterThan(2);
    // The two rules of the mixture say so, and no other rule of the whole catalogue takes the calibration for a fault.
    for (const { rule, outcome, summary } of results) {
      if (MIXTURE.includes(rule)) expect(outcome, `${rule}: ${summary}`).toBe('clear');
      else expect(['clear', 'unproven', 'not-applicable'], `${rule}: ${summary}`).toContain(outcome);
    }
    expect(results.length).toBeGreaterThan(50);
    expect(results.filter(({ outcome }) => outcome === 'clear').length).toBeGreaterThan(20);
    expect(chains).toBeUndefined();
    const trim = results.find(({ rule }) => rule === 'fuel.trim')!;
    expect(trim.summary.includes('as the ethanol in the fuel asks for')).toBe(calibration.explained === true);
  });

  it('and one that is not: lean of a rich target', async () => {
    const lean = {
      ...CALIBRATIONS[2]!,
      disturb: (plant: Plant) => {
        plant.fullLoadLean = 1.16;
      },
    };
    const { results, chains } = await judged(lean, MIXTURE);
    expect(results.find(({ rule }) => rule === 'fuel.lambda-load')?.outcome).toBe('finding');
    expect(chains?.[0]?.suspects.length).toBeGreaterThan(0);
  });
});
