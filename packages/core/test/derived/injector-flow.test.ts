import { describe, expect, it } from 'vitest';
import { injectionOf } from '../../../../scripts/simulate/index.js';
import { INJECTOR_FLOW, type InjectorFlow } from '../../src/derived/injector-flow.js';
import { isRefusal, type Refusal } from '../../src/derived/recipe.js';
import { simulatedDrive } from './simulated.js';

/** What was learned, and the true size (g/s at the reference pressure drop). */
export async function sizeOf(seed: number): Promise<{ found: InjectorFlow | Refusal; truth: number; car: string }> {
  const { drive, sim } = await simulatedDrive({ seed, faults: [{ rule: 'fuel.injector-size', level: 'under' }] });
  const truth = injectionOf(sim.car).flow * sim.plant.injectorScale;
  return { found: drive.derive(INJECTOR_FLOW), truth, car: sim.car.id };
}

describe('injector flow of simulated drives against the injectors that were simulated', () => {
  it.each([2, 5, 8, 12, 19, 31])('seed %i: the interval holds the truth', async (seed) => {
    const { found, truth } = await sizeOf(seed);
    if (isRefusal(found)) throw new Error(found.reason);
    const half = (found.high - found.low) / 2 / found.flow;
    expect(half).toBeGreaterThanOrEqual(found.floor - 1e-9);
    expect(half).toBeLessThan(0.3);
    expect(Math.abs(found.mass / truth - 1)).toBeLessThan(half);
    expect(found.dead).toBeGreaterThan(0.1);
    expect(found.dead).toBeLessThan(1.6);
  });
});
