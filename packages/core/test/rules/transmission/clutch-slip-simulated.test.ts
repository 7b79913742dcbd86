import { describe, expect, it } from 'vitest';
import { type DriveWish, drawDrive, FAULTS, record, simulate, toCsv } from '../../../../../scripts/simulate/index.js';
import { assess, readProfile } from '../../../src/index.js';
import type { Told } from './gears.js';

async function judged(wish: DriveWish): Promise<{ told: Told; slip: number | undefined }> {
  const drawn = drawDrive(wish);
  const sim = simulate(drawn.spec);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error(profile.faults.map(({ message }) => message).join('; '));
  const { bytes } = toCsv(record(sim, drawn.record), drawn.dialect);
  const found = await assess([{ name: 'drive.csv', source: bytes }], {
    vehicle: profile.value,
    only: ['transmission.clutch-slip'],
  });
  const family = FAULTS.find(({ rule }) => rule === 'transmission.clutch-slip')!;
  return { told: found.results[0] as unknown as Told, slip: family.truth(sim).measures.slip };
}

const decoy = (name: string) => [{ rule: 'transmission.clutch-slip', name }];

describe('slip of simulated drives against what the simulation held, without shaft speeds', () => {
  // Gears that were never on overrun hold the slip by design of the clutches; a road speed holds the slip of the tyres.
  it.each<[string, DriveWish]>([
    ['driven wheels, gears hardly on overrun', { seed: 1212213460 }],
    ['road speed that comes late', { seed: 1211841267, kind: 'inspection', decoys: decoy('speedLag') }],
    ['road speed in whole km/h', { seed: 5116610, kind: 'inspection', decoys: decoy('wholeKilometres') }],
    ['road speed, damp road', { seed: 5105863, kind: 'mountain', decoys: decoy('tyreSlip') }],
    [
      'driven wheels, a clutch that slips',
      {
        seed: 8109773,
        kind: 'inspection',
        decoys: decoy('tyreSlip'),
        faults: [{ rule: 'transmission.clutch-slip', level: 'repair' }],
      },
    ],
  ])('%s: within half a percentage point, and its uncertainty tells', async (_, wish) => {
    const { told, slip } = await judged(wish);
    const found = told.measures!.slip!.value as number;
    const doubt = told.measures!.slipUncertainty!.value as number;
    expect(slip).toBeDefined();
    expect(Math.abs(found - slip!)).toBeLessThan(0.5);
    expect(Math.abs(found - slip!)).toBeLessThan(0.1 + 2 * doubt);
    expect(told.summary).toContain(' ± ');
  });
});
