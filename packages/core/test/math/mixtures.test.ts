import { describe, expect, it } from 'vitest';
import { benjaminiHochberg } from '../../src/math/benjamini-hochberg.js';
import { mannKendall } from '../../src/math/mann-kendall.js';
import { normalProbability, normalScore } from '../../src/math/normal-probability.js';
import { studentQuantile } from '../../src/math/student.js';
import { mixtureProbability, mixtureQuantile } from '../../src/math/student-mixture.js';
import { theilSen } from '../../src/math/theil-sen.js';

// "scipy 1.17.1": computed with that version of the reference library, run for these tests.

describe('normal law for inner loops', () => {
  it('probability (scipy 1.17.1 norm.cdf)', () => {
    const cases: [number, number][] = [
      [-3, 0.0013498980316300933],
      [-1.2, 0.11506967022170822],
      [0, 0.5],
      [0.5, 0.6914624612740131],
      [2.5, 0.9937903346742238],
    ];
    for (const [z, p] of cases) expect(Math.abs(normalProbability(z) - p)).toBeLessThan(8e-8);
    expect(normalProbability(Number.NaN)).toBeNaN();
  });

  it("score of Student's t (scipy 1.17.1 norm.ppf of t.cdf)", () => {
    const cases: [number, number[]][] = [
      [6, [-2.69123, -0.92317, 0.47487, 1.68274, 2.69123, 3.30067]],
      [12, [-3.12772, -0.96001, 0.4872, 1.82068, 3.12772, 4.00443]],
      [30, [-3.55232, -0.98361, 0.49483, 1.92185, 3.55232, 4.82582]],
    ];
    for (const [degrees, scores] of cases)
      [-4, -1, 0.5, 2, 4, 6].forEach((t, k) => {
        expect(Math.abs(normalScore(t, degrees) - scores[k]!)).toBeLessThan(0.02);
      });
    expect(Math.abs(normalScore(6, 3) - 2.60183)).toBeLessThan(0.04);
  });
});

describe("mixtures of Student's t", () => {
  it('of one part is that part', () => {
    const parts = [{ weight: 1, location: 2, scale: 0.5, degrees: 7 }];
    expect(mixtureQuantile(parts, 0.975)).toBeCloseTo(2 + 0.5 * studentQuantile(0.975, 7), 7);
    expect(mixtureProbability(parts, 2)).toBeCloseTo(0.5, 12);
  });

  it('of two parts apart has its quantiles in each', () => {
    const parts = [
      { weight: 0.5, location: 0, scale: 0.1, degrees: 30 },
      { weight: 0.5, location: 10, scale: 0.1, degrees: 30 },
    ];
    expect(mixtureQuantile(parts, 0.25)).toBeCloseTo(0, 6);
    expect(mixtureQuantile(parts, 0.75)).toBeCloseTo(10, 6);
    expect(mixtureProbability(parts, mixtureQuantile(parts, 0.9))).toBeCloseTo(0.9, 6);
  });

  it('nothing, certainty and nonsense', () => {
    expect(mixtureQuantile([], 0.5)).toBeNaN();
    expect(mixtureProbability([{ weight: 1, location: 3, scale: 0, degrees: 4 }], 2.9)).toBe(0);
    expect(mixtureProbability([{ weight: 1, location: 3, scale: 0, degrees: 4 }], 3)).toBe(1);
    expect(() => mixtureQuantile([], 1)).toThrow(RangeError);
  });
});

describe('Benjamini and Hochberg', () => {
  it('adjusts as the reference library does (scipy 1.17.1 false_discovery_control)', () => {
    const p = [0.001, 0.008, 0.039, 0.041, 0.042, 0.06, 0.074, 0.205, 0.212, 0.216, 0.222, 0.251, 0.269];
    p.push(0.275, 0.34, 0.341, 0.384, 0.569, 0.594, 0.696, 0.762, 0.94, 0.942, 0.975, 0.986);
    const found = benjaminiHochberg(p);
    expect(found[0]).toBeCloseTo(0.025, 12);
    expect(found[1]).toBeCloseTo(0.1, 12);
    expect(found[3]).toBeCloseTo(0.21, 12);
    expect(found[6]).toBeCloseTo(0.26428571, 8);
    expect(found[7]).toBeCloseTo(0.49107143, 8);
    expect(found[24]).toBeCloseTo(0.986, 12);
  });

  it('keeps the given order; nothing gives nothing', () => {
    expect(benjaminiHochberg([0.04, 0.01])).toEqual([0.04, 0.02]);
    expect(benjaminiHochberg([])).toEqual([]);
    expect(() => benjaminiHochberg([Number.NaN])).toThrow(RangeError);
  });
});

describe('trend tests beside the reference library (scipy 1.17.1 kendalltau, theilslopes)', () => {
  const ten = [1.22, 2.2, 4.8, 1.28, 1.97, 1.46, 2.64, 2.34, 4.84, 2.96];
  const fourteen = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11, 17.3, 15.9, 19, 18.3, 20.1, 21.7];

  it('exact p of 7, 8 and 10 values', () => {
    expect(mannKendall(ten).p).toBeCloseTo(0.07255015432098766, 12);
    expect(mannKendall([3.1, 2.9, 4.0, 3.5, 4.4, 4.1, 5.2]).p).toBeCloseTo(0.03015873015873016, 12);
    expect(mannKendall([5.1, 4.9, 4.0, 4.2, 3.9, 3.1, 3.3, 2.2]).falling).toBeCloseTo(0.0008680555555555555, 12);
  });

  it('slope and interval, also at uneven times', () => {
    const years = Array.from(fourteen, (_, i) => i);
    const long = theilSen(years, fourteen);
    // Its intercept is another one, from the medians of both axes.
    expect(long.slope).toBeCloseTo(0.5666666667, 9);
    expect([long.low, long.high]).toEqual([expect.closeTo(0.325, 9), expect.closeTo(0.8666666667, 9)]);
    const even = theilSen(
      ten.map((_, i) => i + 1),
      ten,
      0.9,
    );
    expect([even.low, even.high]).toEqual([expect.closeTo(0.0066666667, 9), expect.closeTo(0.44, 9)]);
    const uneven = theilSen([0, 1, 2.5, 3, 4.2, 6, 6.5, 8, 9.9, 11], ten);
    expect(uneven.slope).toBeCloseTo(0.14558823529411766, 12);
    expect([uneven.low, uneven.high]).toEqual([expect.closeTo(-0.071875, 9), expect.closeTo(0.3885714286, 9)]);
  });
});
