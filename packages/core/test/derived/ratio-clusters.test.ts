import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { LEARNED_RATIOS, type LearnedRatios } from '../../src/derived/ratio-clusters.js';
import { type Drive, isRefusal } from '../../src/derived/recipe.js';
import { driveOf } from './helpers.js';

const DATA = new URL('../../../../../shared/data/', import.meta.url);

function learned(drive: Drive): LearnedRatios {
  const found = drive.derive(LEARNED_RATIOS);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

/** Ratios that the publishers' own algorithm found (km/h per rpm): JRCSTU/wltp, tests/test_idgears.py, EUPL 1.1. */
const PUBLISHED = [
  [0.00862961, 0.01414138, 0.02040305, 0.02705056, 0.03361355, 0.03913649],
  [0.0077537, 0.01430799, 0.02039729, 0.02715475, 0.03377971, 0.03948467],
  [0.00773553, 0.01428506, 0.02039676, 0.02713253, 0.03377312, 0.03950773],
  [0.00701223, 0.01270195, 0.01852081, 0.0244521, 0.029762, 0.04085927],
];

const vn = new URL('jrc-vn-gears/VNreal.csv', DATA);
describe.skipIf(!existsSync(vn))(
  'measured speed and engine speed of four runs (JRC, VNreal.csv; skipped when absent)',
  () => {
    const lines = existsSync(vn) ? readFileSync(vn, 'utf8').split(/\r?\n/).slice(5) : [];
    const sets = PUBLISHED.map((_, set) => {
      const rows = lines
        .map((line) => line.split(',').slice(2 * set, 2 * set + 2))
        .filter((pair) => pair.length === 2 && pair.every((cell) => cell.trim() !== ''))
        .map((pair) => pair.map(Number));
      // The third set holds engine speed first.
      const [v, n] = set === 2 ? [1, 0] : [0, 1];
      return learned(
        driveOf({ hz: 1, channels: { vehicleSpeed: rows.map((r) => r[v]!), engineSpeed: rows.map((r) => r[n]!) } }),
      );
    });

    /** A heap that was never held beyond the last gear: what the published fit of set 3 takes for its sixth. */
    const beyond = (set: number) => {
      const { ratios, passing } = sets[set]!;
      return passing.filter(({ value }) => value < ratios[ratios.length - 1]!.value);
    };

    it.each([0, 1, 2, 3])('set %i: all six ratios, read as logged, within 1 % of the published ones', (set) => {
      const logged = [...sets[set]!.ratios, ...beyond(set)].map(({ apparent }) => apparent);
      expect(logged).toHaveLength(6);
      logged.forEach((apparent, g) => {
        expect(Math.abs(apparent * PUBLISHED[set]![g]! - 1)).toBeLessThan(0.01);
      });
    });

    it.each([0, 1, 2])('set %i: all six gears were held', (set) => {
      expect(sets[set]!.ratios).toHaveLength(6);
      expect(beyond(set)).toHaveLength(0);
    });

    it('set 3: five gears were held within 1 %; the published sixth holds single shift dips only and is told as passing', () => {
      const { ratios } = sets[3]!;
      expect(ratios).toHaveLength(5);
      ratios.forEach((ratio, g) => {
        expect(Math.abs(ratio.value * PUBLISHED[3]![g]! - 1)).toBeLessThan(0.01);
      });
      const [heap, ...others] = beyond(3);
      expect(others).toHaveLength(0);
      // The step to it is wider than the one before, which no gearbox has at its top; the dips lie lopsided about it.
      expect(ratios[4]!.value / heap!.value).toBeGreaterThan(ratios[3]!.value / ratios[4]!.value);
      expect(Math.abs(heap!.value * PUBLISHED[3]![5]! - 1)).toBeLessThan(0.015);
    });

    it('sets 1 and 2: aligned ratios agree with the published ones as well, so nothing was late', () => {
      for (const set of [1, 2]) {
        sets[set]!.ratios.forEach((ratio, g) => {
          expect(Math.abs(ratio.value * PUBLISHED[set]![g]! - 1)).toBeLessThan(0.01);
        });
        expect(Math.abs(sets[set]!.lag)).toBeLessThan(0.1);
      }
    });

    it('set 0 was logged 0.8 s apart: aligned, its steps are those of the same gearbox in sets 1 and 2', () => {
      const steps = (set: number) => sets[set]!.ratios.slice(1).map((r, g) => r.value / sets[set]!.ratios[g]!.value);
      expect(sets[0]!.lag).toBeLessThan(-0.6);
      steps(0).forEach((step, g) => {
        expect(Math.abs(step / steps(1)[g]! - 1)).toBeLessThan(0.01);
      });
      // The published first gear is 10 % off those of the other sets: a bias of reading launches late.
      expect(Math.abs(PUBLISHED[0]![0]! / PUBLISHED[1]![0]! - 1)).toBeGreaterThan(0.1);
    });
  },
);

describe('gear-shift reference cases of UN Global Technical Regulation No. 15 annex 2, calculated (JRC; skipped when absent)', () => {
  for (const name of [1, 2, 3, 11]) {
    const file = new URL(`jrc-wltp-gearshift/case${name}_derived.csv`, DATA);
    it.skipIf(!existsSync(file))(
      `case ${name}: exact ratios within 0.2 %, gear right in >= 97 % of the samples`,
      () => {
        const rows = readFileSync(file, 'utf8')
          .trim()
          .split(/\r?\n/)
          .slice(1)
          .map((line) => line.split(','));
        const v = rows.map((r) => Number(r[1]));
        const n = rows.map((r) => Number(r[4]));
        const truth = rows.map((r) => Number(r[3]));
        const { ratios, gear } = learned(driveOf({ hz: 1, channels: { vehicleSpeed: v, engineSpeed: n } }));
        expect(ratios).toHaveLength(6);
        let right = 0;
        let total = 0;
        truth.forEach((g, i) => {
          if (!(g > 0 && v[i]! > 0)) return;
          total++;
          if (gear[i] === g) right++;
          if (v[i]! > 10) expect(Math.abs((ratios[g - 1]!.value * v[i]!) / n[i]! - 1)).toBeLessThan(0.002);
        });
        expect(right / total).toBeGreaterThanOrEqual(0.97);
      },
    );
  }
});
