import { describe, expect, it } from 'vitest';
import { drawDrive, FAULTS, record, simulate } from '../../../../scripts/simulate/index.js';
import { CHARGE_COOLING } from '../../src/derived/charge-cooling.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { driveOf } from '../rules/helpers.js';

const family = FAULTS.find(({ rule }) => rule === 'air.charge-cooling')!;

describe('effectiveness of the charge cooler in simulated drives', () => {
  // The simulator's compressor is of 0.71, its cooler a mass of its own: other forms than the estimate inverts.
  it.each([5101, 5138, 5175, 5212, 5249, 5286])(
    'seed %i: within 0.05 of the truth, which the interval covers',
    (seed) => {
      const level = seed % 2 === 0 ? 'watch' : 'repair';
      const drawn = drawDrive({ seed, faults: [{ rule: family.rule, level, dial: 0.5 }], plain: true });
      const sim = simulate(drawn.spec);
      const recorded = record(sim, drawn.record);
      const channels = Object.fromEntries(recorded.columns.map(({ id, values }) => [id, values]));
      const cooling = driveOf(recorded.time, channels).derive(CHARGE_COOLING);
      if (isRefusal(cooling)) throw new Error(cooling.reason);
      const sorted = cooling.pulls
        .filter((p) => !Number.isNaN(p.effectiveness))
        .sort((a, b) => a.effectiveness - b.effectiveness);
      const found = sorted[sorted.length >> 1]!;
      const truth = family.truth(sim).measures.effectiveness!;
      expect(Math.abs(found.effectiveness - truth)).toBeLessThan(0.05);
      expect(Math.abs(found.effectiveness - truth)).toBeLessThan(1.96 * found.u);
    },
  );
});
