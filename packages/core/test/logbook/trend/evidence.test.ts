import { describe, expect, it } from 'vitest';
import { MEMORIES, prepare, shapeFactor, weigh } from '../../../src/logbook/trend/evidence.js';
import { memoryPriors } from '../../../src/logbook/trend/memory.js';
import type { Shape } from '../../../src/logbook/trend/shape.js';
import { whitened, whitener } from '../../../src/logbook/trend/whiten.js';
import { leastSquares } from '../../../src/math/least-squares.js';

// One series, computed apart from the closed forms: numpy 2.4.6 for generalised least squares with the full covariance
// matrix, scipy 1.17.1 dblquad for the integral over size and scatter.
const y = Float64Array.of(-0.8, -0.86, 0.37, 0.85, 1.33, 0.35, 0.09, 0.35, 2.14, 2.92, 1.31, -0.26, 0.33, 3.39);
const n = y.length;
const one = new Float64Array(n).fill(1);
const months = Float64Array.from(y, (_, i) => i / 12);
const wave = Float64Array.from(y, (_, i) => Math.round(100 * Math.sin(i)) / 100);
const spread = { variance: one, steps: one };
const drift: Shape = { kind: 'drift', onset: 0, through: false, column: months, prior: 1, scale: 2 };
const problem = { y, nuisance: [one, wave], shapes: [drift], spread };

describe('evidence of a shape', () => {
  it('likelihood without a change, autocorrelation 0.3, as the full matrix gives it', () => {
    expect(prepare(problem, 0.3)!.log).toBeCloseTo(-18.89530082009758, 9);
  });

  it('factor as numerical integration gives it, both directions', () => {
    const { higher, lower } = shapeFactor(prepare(problem, 0.3)!, drift);
    // The probability of the sign is that of Wallace's approximation: a few thousandths.
    expect(Math.abs(higher - 1.9470214637627763)).toBeLessThan(0.005);
    expect(Math.abs(lower - -1.8086872469933557)).toBeLessThan(0.1);
  });

  it('whitening gives the coefficients and errors of the full matrix', () => {
    const w = whitener(spread, 0.3);
    const fit = leastSquares(
      [one, wave, months].map((column) => whitened(w, column)),
      whitened(w, y),
    )!;
    const expected = [-0.6029746742836127, 0.7568339301253297, 2.637148801693196];
    const errors = [0.677265069551132, 0.44677520178638835, 1.0452347695385986];
    for (const k of [0, 1, 2]) {
      expect(fit.coefficients[k]).toBeCloseTo(expected[k]!, 9);
      expect(Math.sqrt(fit.variance * fit.inverse[k * 3 + k]!)).toBeCloseTo(errors[k]!, 9);
    }
  });

  it('uneven steps and variances: the white columns have the unit covariance', () => {
    const variance = Float64Array.of(1, 4, 0.5, 2);
    const steps = Float64Array.of(1, 1, 2.5, 1);
    const w = whitener({ variance, steps }, 0.4);
    const at = [0, 1, 3.5, 4.5];
    const rows = [0, 1, 2, 3].map((j) =>
      whitened(
        w,
        Float64Array.from([0, 1, 2, 3], (i) => (i === j ? 1 : 0)),
      ),
    );
    for (let a = 0; a < 4; a++)
      for (let b = 0; b < 4; b++) {
        let sum = 0;
        for (let i = 0; i < 4; i++)
          for (let j = 0; j < 4; j++)
            sum +=
              rows[i]![a]! * rows[j]![b]! * Math.sqrt(variance[i]! * variance[j]!) * 0.4 ** Math.abs(at[i]! - at[j]!);
        expect(sum).toBeCloseTo(a === b ? 1 : 0, 12);
      }
  });

  it('does not change with the unit, the level or the weather that is taken off', () => {
    const scaled = { ...problem, y: y.map((x, i) => 250 + 40 * x + 7 * wave[i]!) };
    const [a, b] = [problem, scaled].map((each) => shapeFactor(prepare(each, 0.15)!, drift));
    expect(b!.higher).toBeCloseTo(a!.higher, 9);
    expect(b!.lower).toBeCloseTo(a!.lower, 9);
  });

  it('beliefs add up to one, and nothing to scatter is refused', () => {
    const prepared = MEMORIES.map(({ rho }) => prepare(problem, rho)!);
    const { higher } = weigh(
      prepared,
      MEMORIES.map(({ prior }) => prior),
      [drift],
    );
    expect(higher.terms.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12);
    expect(prepare({ ...problem, y: one }, 0)).toBeUndefined();
    expect(
      prepare(
        { ...problem, nuisance: [one, wave, ...Array.from({ length: 12 }, (_, k) => months.map((x) => x ** (k + 1)))] },
        0,
      ),
    ).toBeUndefined();
  });

  it('the others tell a measure of its autocorrelation, itself left out', () => {
    const strong = Float64Array.of(0, 2, 6, 2, 0);
    const [own, without] = memoryPriors([strong, undefined, strong, strong]);
    expect(own!.indexOf(Math.max(...own!))).toBe(2);
    expect(own!.reduce((a, b) => a + b)).toBeCloseTo(1, 12);
    expect(without).toBeUndefined();
    const [alone] = memoryPriors([strong]);
    MEMORIES.forEach(({ prior }, k) => {
      expect(alone![k]).toBeCloseTo(prior, 12);
    });
  });

  // Counted out over all ways in which three measures can have the five autocorrelations, in place of the closed form.
  it.each([
    ['agree', [0, 1, 3, 1, 0], [-1, 0, 2, 2, 0]],
    ['disagree', [8, 4, 0, -4, -8], [-8, -4, 0, 4, 8]],
  ])('whether the measures share one autocorrelation is weighed: the others %s', (_, second, third) => {
    const others = [Float64Array.from(second), Float64Array.from(third)];
    const told = memoryPriors([Float64Array.of(5, 4, 3, 2, 1), ...others])[0]!;
    const together = MEMORIES.map(({ prior }, k) => 0.95 * prior * Math.exp(others[0]![k]! + others[1]![k]!));
    const apart = MEMORIES.map(({ prior }) => {
      let sum = 0;
      MEMORIES.forEach((a, i) => {
        MEMORIES.forEach((b, j) => {
          sum += 0.05 * prior * a.prior * b.prior * Math.exp(others[0]![i]! + others[1]![j]!);
        });
      });
      return sum;
    });
    const total = [...together, ...apart].reduce((x, z) => x + z);
    MEMORIES.forEach(({ prior }, k) => {
      expect(told[k]).toBeCloseTo((0.99 * (together[k]! + apart[k]!)) / total + 0.01 * prior, 12);
    });
  });

  it('measures that contradict each other leave one to itself', () => {
    const low = Float64Array.of(9, 5, 0, -5, -9);
    const high = low.slice().reverse();
    const [told] = memoryPriors([new Float64Array(5), low, high, low, high]);
    MEMORIES.forEach(({ prior }, k) => {
      expect(told![k]).toBeCloseTo(prior, 3);
    });
  });
});
