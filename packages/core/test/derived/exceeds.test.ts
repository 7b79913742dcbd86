import { describe, expect, it } from 'vitest';
import { exceeds, uncertaintyOf } from '../../src/derived/exceeds.js';

const channel = (quantum: number) => ({
  quality: {
    rate: 10,
    groupRate: 10,
    quantum,
    samples: 1,
    removed: { sentinel: 0, implausible: 0, spike: 0 },
    frozen: [],
    saturated: [],
    constant: false,
  },
});

describe('uncertaintyOf', () => {
  it('is quantum / sqrt(12) alone (JCGM 100 F.2.2.1)', () => {
    expect(uncertaintyOf(channel(1))).toBeCloseTo(0.288675, 6);
  });

  it('is half-width / sqrt(3) for a tolerance (JCGM 100 4.3.7)', () => {
    expect(uncertaintyOf(channel(0), { tolerance: 3 })).toBeCloseTo(3 / Math.sqrt(3), 12);
  });

  it('adds lag times slope, and divides noise by the square root of the samples', () => {
    expect(uncertaintyOf(channel(0), { lag: 0.2, slope: -6 })).toBeCloseTo(1.2, 12);
    expect(uncertaintyOf(channel(0), { noise: 2, fresh: 16 })).toBeCloseTo(0.5, 12);
    expect(uncertaintyOf(channel(0), { noise: 3, lag: 1, slope: 4 })).toBeCloseTo(5, 12);
  });

  it('never averages the quantum away, nor the tolerance at all', () => {
    expect(uncertaintyOf(channel(1), { fresh: 1e6 })).toBeCloseTo(0.288675 / 4, 6);
    expect(uncertaintyOf(channel(0), { tolerance: 1, fresh: 1e6 })).toBeCloseTo(1 / Math.sqrt(3), 12);
  });
});

describe('exceeds', () => {
  it.each([
    // One-sided 95 % bound: 1.645 standard uncertainties.
    [126, 0.5, 125, '>', 'beyond'],
    [125.8, 0.5, 125, '>', 'near'],
    [125, 0.5, 125, '>', 'near'],
    [124.3, 0.5, 125, '>', 'near'],
    [124.1, 0.5, 125, '>', 'within'],
    [1.0, 0.1, 1.2, '<', 'beyond'],
    [1.1, 0.1, 1.2, '<', 'near'],
    [1.4, 0.1, 1.2, '<', 'within'],
    [125, 0, 125, '>', 'within'],
    [125, 0, 125, '>=', 'beyond'],
    [1.2, 0, 1.2, '<', 'within'],
    [1.2, 0, 1.2, '<=', 'beyond'],
    [200, Number.NaN, 125, '>', 'near'],
    [200, Number.POSITIVE_INFINITY, 125, '>', 'near'],
  ] as const)('%f +- %f %s %s is %s', (value, u, limit, comparison, expected) => {
    expect(exceeds(value, u, limit, comparison)).toBe(expected);
  });

  it('does not compare what could not be measured', () => {
    expect(() => exceeds(Number.NaN, 1, 2, '>')).toThrow(RangeError);
    expect(() => exceeds(1, 1, Number.NaN, '>')).toThrow(RangeError);
  });
});
