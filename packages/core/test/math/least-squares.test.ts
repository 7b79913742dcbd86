import { describe, expect, it } from 'vitest';
import { leastSquares, leverage } from '../../src/math/least-squares.js';
import { linearRegression } from '../../src/math/linear-regression.js';
import { gaussian } from '../derived/helpers.js';
import { hasValidation, sharedText, WHERE } from './published.js';

describe('weighted least squares', () => {
  it.skipIf(!hasValidation)(`meets the certified line of NIST StRD Norris${WHERE}`, () => {
    const [head, ...rows] = sharedText('validation/norris.csv').trim().split(/\r?\n/);
    expect(head).toBe('y,x');
    const y = rows.map((row) => Number(row.split(',')[0]));
    const x = rows.map((row) => Number(row.split(',')[1]));
    const certified = JSON.parse(sharedText('validation/norris.json'));
    const fit = leastSquares([x.map(() => 1), x], y)!;
    expect(Math.abs(fit.coefficients[1]! / certified.b1 - 1)).toBeLessThan(1e-9);
    expect(Math.abs(Math.sqrt(fit.variance) / certified.residual_sd - 1)).toBeLessThan(1e-6);
    expect(Math.sqrt(fit.variance * leverage(fit, [0, 1]))).toBeCloseTo(linearRegression(x, y).slopeError, 9);
  });

  it('finds a plane, skips NaN rows, weighs rows, and refuses columns that depend on each other', () => {
    const noise = gaussian(4);
    const a = Array.from({ length: 200 }, (_, i) => (i % 20) / 10);
    const b = Array.from({ length: 200 }, (_, i) => Math.floor(i / 20) / 5);
    const y = a.map((x, i) => (i === 7 ? Number.NaN : 2 + 3 * x - b[i]! + 0.01 * noise()));
    const one = a.map(() => 1);
    const fit = leastSquares([one, a, b], y)!;
    expect(fit.rows).toBe(199);
    [2, 3, -1].forEach((c, k) => {
      expect(Math.abs(fit.coefficients[k]! - c)).toBeLessThan(0.01);
    });
    const wild = y.slice();
    wild[3] = 500;
    const weights = a.map((_, i) => (i === 3 ? 0 : 1));
    expect(Math.abs(leastSquares([one, a, b], wild, weights)!.coefficients[1]! - 3)).toBeLessThan(0.01);
    expect(Math.abs(leastSquares([one, a, b], wild)!.coefficients[1]! - 3)).toBeGreaterThan(0.1);
    expect(leastSquares([one, a, a], y)).toBeUndefined();
    expect(leastSquares([one, a, b], [1, 2])).toBeUndefined();
  });
});
