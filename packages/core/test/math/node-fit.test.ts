import { describe, expect, it } from 'vitest';
import { linearRegression } from '../../src/math/linear-regression.js';
import { type NodeSamples, nodeFit } from '../../src/math/node-fit.js';
import { evenly } from './random.js';

/** Samples on a line with nodes at 0, 1, …, each between its two neighbours. */
function line(nodes: number, x: readonly number[], y: readonly number[], cluster: readonly number[]): NodeSamples {
  const at = x.map((each) => Math.min(nodes - 2, Math.floor(each)));
  return {
    nodes,
    width: 2,
    index: Int32Array.from(at.flatMap((k) => [k, k + 1])),
    weight: Float64Array.from(at.flatMap((k, i) => [1 - (x[i]! - k), x[i]! - k])),
    y: Float64Array.from(y),
    cluster: Int32Array.from(cluster),
    bends: Array.from({ length: nodes - 2 }, (_, k): [number, number, number] => [k, k + 1, k + 2]),
    steps: Array.from({ length: nodes - 1 }, (_, k): [number, number] => [k, k + 1]),
  };
}

describe('nodeFit', () => {
  const random = evenly(7);
  const x = Array.from({ length: 400 }, (_, i) => (i % 100) / 20);

  it('a straight line is no bend: its nodes are met exactly', () => {
    const fit = nodeFit(
      line(
        6,
        x,
        x.map((each) => 3 + 2 * each),
        x.map((_, i) => Math.floor(i / 50)),
      ),
    );
    for (const [k, value] of fit.values.entries()) expect(value).toBeCloseTo(3 + 2 * k, 5);
    expect(fit.errors[2]).toBeLessThan(1e-5);
  });

  it('much smoothing gives the regression line (least squares with two parameters)', () => {
    const y = x.map((each) => 1 + 0.5 * each + (random() - 0.5));
    // Each stretch covers all of the axis, so that cross-validation sees no bend.
    const fit = nodeFit(
      line(
        6,
        x,
        y,
        x.map((_, i) => i % 8),
      ),
    );
    const regression = linearRegression(x, y);
    for (const [k, value] of fit.values.entries())
      expect(Math.abs(value - (regression.intercept + regression.slope * k))).toBeLessThan(0.25);
  });

  it('a bend in the data is followed, and the error covers what is left', () => {
    const bent = (each: number): number => (each < 2 ? each : 4 - each);
    const offset = Array.from({ length: 12 }, () => 0.2 * (random() - 0.5));
    const at = Array.from({ length: 1200 }, () => 5 * random());
    const cluster = at.map((_, i) => i % 12);
    const fit = nodeFit(
      line(
        6,
        at,
        at.map((each, i) => bent(each) + offset[cluster[i]!]!),
        cluster,
      ),
    );
    const middle = offset.reduce((a, b) => a + b) / 12;
    fit.values.forEach((value, k) => {
      expect(Math.abs(value - bent(k) - middle)).toBeLessThan(0.03);
      // Standard error of a mean of 12 offsets, evenly between -0.1 and 0.1.
      expect(fit.errors[k]).toBeGreaterThan(0.008);
      expect(fit.errors[k]).toBeLessThan(0.035);
    });
  });

  it('nodes without a sample, and no sample at all, are not known', () => {
    const fit = nodeFit(line(6, [0.5, 0.7, 0.9], [1, 1, 1], [0, 1, 2]));
    expect(Array.from(fit.values).map(Number.isNaN)).toEqual([false, false, true, true, true, true]);
    expect(nodeFit(line(3, [], [], [])).values.every(Number.isNaN)).toBe(true);
  });

  it('carries no slope on that samples between two nodes hardly show', () => {
    // All at 0.3 to 0.4 of the way; the slope that chance gives them would put node 0 far away.
    const at = Array.from({ length: 300 }, (_, i) => 0.3 + 0.1 * ((i % 30) / 30));
    const fit = nodeFit(
      line(
        6,
        at,
        at.map((each, i) => 12 + 20 * (each - 0.35) + 0.1 * (i % 7)),
        at.map((_, i) => Math.floor(i / 30)),
      ),
    );
    expect(Math.abs(fit.values[0]! - 12.3)).toBeLessThan(1.5);
  });
});
