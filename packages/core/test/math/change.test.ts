import { describe, expect, it } from 'vitest';
import { newcombeInterval, noneSeenBound } from '../../src/math/count-interval.js';
import { expectedMaximum } from '../../src/math/expected-maximum.js';
import { holm } from '../../src/math/holm.js';
import { studentProbability, studentQuantile } from '../../src/math/student.js';
import { detectableDifference, welch } from '../../src/math/welch.js';
import { hasValidation, sharedText, WHERE } from './published.js';

interface Example {
  readonly id: string;
  readonly a: number[];
  readonly b: number[];
  readonly cases: number[][];
  readonly expected: { t: number; df: number; p_two_sided: number; ci95: [number, number] };
}

describe.skipIf(!hasValidation)(`published examples of a change${WHERE}`, () => {
  const all = hasValidation ? (JSON.parse(sharedText('validation/stats-examples.json')) as Example[]) : [];
  const example = (id: string): Example => all.find((each) => each.id === id)!;

  it("Welch on Student's sleep data (1908; values of R t.test)", () => {
    const { a, b, expected } = example('welch-sleep');
    // R gives the first group less the second.
    const found = welch(b, a)!;
    expect(found.t).toBeCloseTo(expected.t, 9);
    expect(found.degrees).toBeCloseTo(expected.df, 9);
    expect(found.p).toBeCloseTo(expected.p_two_sided, 9);
    expect(found.low).toBeCloseTo(expected.ci95[0], 9);
    expect(found.high).toBeCloseTo(expected.ci95[1], 9);
  });

  it('difference of two shares (Newcombe 1998, table II method 10)', () => {
    for (const [a, m, b, n, low, high] of example('newcombe-10').cases) {
      const found = newcombeInterval(a!, m!, b!, n!);
      expect(Math.abs(found.low - low!)).toBeLessThan(6e-5);
      expect(Math.abs(found.high - high!)).toBeLessThan(6e-5);
    }
  });
});

describe('welch', () => {
  it('is NaN-proof, and says nothing from one value', () => {
    expect(welch([1], [2, 3])).toBeUndefined();
    expect(welch([1, Number.NaN, 2], [2, 3])?.difference).toBe(1);
  });

  it('without spread is sure of what it sees', () => {
    expect(welch([2, 2], [2, 2])).toMatchObject({ difference: 0, p: 1 });
    expect(welch([2, 2], [3, 3])).toMatchObject({ difference: 1, p: 0, low: 1, high: 1 });
  });

  it('detectable difference: 8 + 8 with unit deviation (t 2.1448 + 0.8681 with 14 degrees, table of Student)', () => {
    expect(detectableDifference(Math.sqrt(2 / 8), 14)).toBeCloseTo((2.1448 + 0.8681) / 2, 3);
    expect(studentProbability(studentQuantile(0.8, 14), 14)).toBeCloseTo(0.8, 12);
  });
});

describe('holm', () => {
  it('adjusts in steps and never falls (values of R p.adjust, method holm; arithmetic by hand)', () => {
    expect(holm([0.01, 0.04, 0.03, 0.005])).toEqual([0.03, 0.06, 0.06, 0.02]);
    expect(holm([])).toEqual([]);
    expect(holm([0.9, 0.8])).toEqual([1, 1]);
    expect(() => holm([Number.NaN])).toThrow(RangeError);
  });
});

describe('rates and maxima', () => {
  it('no event in n trials: 1 - 0.05^(1/n) (Clopper & Pearson 1934; 0 of 10 gives 25.89 %)', () => {
    expect(noneSeenBound(10)).toBeCloseTo(0.258866, 6);
    expect(noneSeenBound(0)).toBe(1);
  });

  it('maximum at equal size is the mean over all choices', () => {
    const x = [3, 1, 4, 1.5, 9, 2.6];
    const choices: number[] = [];
    for (let i = 0; i < x.length; i++)
      for (let j = i + 1; j < x.length; j++)
        for (let k = j + 1; k < x.length; k++) choices.push(Math.max(x[i]!, x[j]!, x[k]!));
    expect(expectedMaximum(x, 3)).toBeCloseTo(choices.reduce((a, b) => a + b) / choices.length, 12);
    expect(expectedMaximum(x, 6)).toBe(9);
    expect(expectedMaximum(x, 1)).toBeCloseTo(x.reduce((a, b) => a + b) / 6, 12);
    expect(expectedMaximum(x, 7)).toBeNaN();
  });
});
