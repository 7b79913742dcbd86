import { describe, expect, it } from 'vitest';
import { drawDrive, type Phase, PLAIN, record, simulate, toCsv } from '../../../../../scripts/simulate/index.js';
import { assess } from '../../../src/index.js';
import { readProfile } from '../../../src/vehicle/profile.js';

/** Town and nothing else: no level at 80 to 120 km/h, and standing lifts what moving lets fall. */
const TOWN: readonly Phase[] = [
  { kind: 'town', duration: 420, limit: 50 },
  { kind: 'idle', duration: 60 },
  { kind: 'town', duration: 420, limit: 60 },
  { kind: 'idle', duration: 60 },
];

async function told(seed: number, open: number): Promise<string> {
  const drawn = drawDrive({ seed, kind: 'town', plain: true });
  const spec = {
    ...drawn.spec,
    script: [drawn.spec.script[0]!, ...TOWN],
    disturb: (plant: Parameters<NonNullable<typeof drawn.spec.disturb>>[0]) => {
      drawn.spec.disturb?.(plant);
      plant.thermostatOpen = open;
    },
  };
  const { bytes } = toCsv(record(simulate(spec), drawn.record), PLAIN);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('profile');
  const { results } = await assess([{ name: 'town.csv', source: bytes }], {
    vehicle: profile.value,
    only: ['engine.cooling'],
  });
  const result = results.find(({ rule }) => rule === 'engine.cooling')!;
  return result.outcome === 'finding' ? `${result.severity}` : result.outcome;
}

describe('a thermostat that hangs open, driven gently', () => {
  it.each([5501, 5594])('of drive %i is found in town, and a sound one is not', async (seed) => {
    expect(await told(seed, 0)).toBe('clear');
    expect(await told(seed, 0.5)).toBe('watch');
  });
});
