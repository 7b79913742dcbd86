import { describe, expect, it } from 'vitest';
import { edgesUncertainty, maskedSeconds, ROW_SECONDS } from '../../src/derived/row-seconds.js';
import { clock, driveOf } from '../rules/helpers.js';

describe('row seconds', () => {
  it('stand for the step to the next row, for one ordinary row at the end and before a gap', () => {
    const time = Float64Array.of(0, 1, 2, 3, 10, 11, 12.5);
    const seconds = driveOf(time, { engineSpeed: (t) => t }).derive(ROW_SECONDS);
    expect([...(seconds as Float64Array)]).toEqual([1, 1, 1, 1, 1, 1.5, 1]);
  });

  it('sum to the duration plus one row', () => {
    const seconds = driveOf(clock(60, 10), { engineSpeed: (t) => t }).derive(ROW_SECONDS) as Float64Array;
    expect(seconds.reduce((a, b) => a + b, 0)).toBeCloseTo(60.1, 9);
  });

  it('are added up over a mask, with its stretches', () => {
    const mask = Uint8Array.of(1, 1, 0, 1, 0, 1);
    const seconds = Float64Array.of(1, 2, 4, 8, 16, 32);
    expect(maskedSeconds(mask, seconds)).toEqual({ total: 43, stretches: 3 });
    expect(maskedSeconds(mask, seconds, 1, 3)).toEqual({ total: 10, stretches: 2 });
    expect(maskedSeconds(new Uint8Array(0), new Float64Array(0))).toEqual({ total: 0, stretches: 0 });
  });
});

it('ends of stretches are rectangular over one interval each (JCGM 100:2008, 4.3.7)', () => {
  expect(edgesUncertainty(0, 0.1)).toBe(0);
  // Two ends of 1 s each: sqrt(2 / 12).
  expect(edgesUncertainty(1, 1)).toBeCloseTo(0.408248, 6);
  expect(edgesUncertainty(4, 1)).toBeCloseTo(2 * 0.408248, 5);
});
