import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  both,
  except,
  hysteresis,
  maskOf,
  segmentsOf,
  totalDuration,
  widened,
  within,
} from '../../src/derived/intervals.js';

const mask = (text: string): Uint8Array => Uint8Array.from(text, (c) => (c === '1' ? 1 : 0));
const seconds = (n: number): Float64Array => Float64Array.from({ length: n }, (_, i) => i);

describe('segmentsOf', () => {
  it('gives rows and seconds, inclusive', () => {
    expect(segmentsOf(mask('0110001'), seconds(7))).toEqual([
      { from: 1, to: 2, start: 1, end: 2 },
      { from: 6, to: 6, start: 6, end: 6 },
    ]);
    expect(segmentsOf(mask('000'), seconds(3))).toEqual([]);
    expect(segmentsOf(new Uint8Array(0), seconds(0))).toEqual([]);
  });

  it('drops the short, exactly at the limit kept', () => {
    expect(segmentsOf(mask('1110110'), seconds(7), { minDuration: 2 })).toMatchObject([{ from: 0, to: 2 }]);
    expect(segmentsOf(mask('1110110'), seconds(7), { minDuration: 2.1 })).toEqual([]);
    // 0.1 s steps do not add up exactly in binary.
    const time = Float64Array.from({ length: 21 }, (_, i) => 0.7 + i * 0.1);
    expect(segmentsOf(new Uint8Array(21).fill(1), time, { minDuration: 2 }).length).toBe(1);
  });

  it('joins two rows that hold where no more than maxGap lies between, and no long step before the second', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.boolean(), fc.constantFrom(1, 1, 1, 2, 5)), { maxLength: 60 }),
        fc.constantFrom(0, 2, 3, 6),
        fc.constantFrom(1, 2, 9),
        (rows, maxGap, maxStep) => {
          const on = Uint8Array.from(rows, ([holds]) => (holds ? 1 : 0));
          let t = 0;
          const time = Float64Array.from(rows, ([, step]) => (t += step));
          const plain: [number, number][] = [];
          for (let i = 0; i < on.length; i++) {
            if (on[i] === 0) continue;
            const last = plain[plain.length - 1];
            const near = last && (last[1] === i - 1 || time[i]! - time[last[1]]! <= maxGap);
            if (near && time[i]! - time[i - 1]! <= maxStep) last[1] = i;
            else plain.push([i, i]);
          }
          expect(segmentsOf(on, time, { maxGap, maxStep }).map(({ start, end }) => [start, end])).toEqual(plain);
        },
      ),
    );
  });

  it('bridges gaps of the mask up to maxGap, never gaps of the recording', () => {
    expect(segmentsOf(mask('1101100'), seconds(7), { maxGap: 2 })).toMatchObject([{ start: 0, end: 4 }]);
    expect(segmentsOf(mask('1101100'), seconds(7), { maxGap: 1.9 }).length).toBe(2);
    const holed = Float64Array.from([0, 1, 2, 60, 61]);
    expect(segmentsOf(mask('11111'), holed, { maxStep: 3 })).toMatchObject([
      { from: 0, to: 2 },
      { from: 60, to: 61 },
    ]);
  });

  it('and maskOf are each other’s inverse', () => {
    fc.assert(
      fc.property(fc.array(fc.constantFrom(0, 1), { maxLength: 60 }), (bits) => {
        const m = Uint8Array.from(bits);
        expect(maskOf(segmentsOf(m, seconds(m.length)), m.length)).toEqual(m);
      }),
    );
  });
});

describe('within', () => {
  it('finds the segment of a time', () => {
    const found = segmentsOf(mask('0110011'), seconds(7));
    expect(within(found, 1.5)).toBe(found[0]);
    expect(within(found, 5)).toBe(found[1]);
    expect(within(found, 3)).toBeUndefined();
    expect(within(found, 9)).toBeUndefined();
    expect(within(found, Number.NaN)).toBeUndefined();
    expect(within([], 1)).toBeUndefined();
  });
});

describe('widened', () => {
  it('widens, cuts at the ends and merges what meets', () => {
    expect(widened(segmentsOf(mask('1000110'), seconds(7)), seconds(7), 1)).toMatchObject([
      { start: 0, end: 1 },
      { start: 3, end: 6 },
    ]);
    expect(widened(segmentsOf(mask('1000110'), seconds(7)), seconds(7), 2)).toMatchObject([{ start: 0, end: 6 }]);
  });

  it('changes the total duration accordingly', () => {
    expect(totalDuration(widened(segmentsOf(mask('0001000'), seconds(7)), seconds(7), 1))).toBe(2);
  });
});

describe('hysteresis', () => {
  it('enters at the upper and leaves below the lower limit; a missing sample keeps the state', () => {
    expect(hysteresis([1, 5, 4, Number.NaN, 3, 2.9, 4], 5, 3)).toEqual(mask('0111100'));
  });

  it('works downwards', () => {
    expect(hysteresis([9, 2, 4, 6, 4], 2, 5)).toEqual(mask('01100'));
  });
});

describe('mask arithmetic', () => {
  it('and, and not', () => {
    expect(both(mask('0011'), mask('0101'))).toEqual(mask('0001'));
    expect(except(mask('0011'), mask('0101'))).toEqual(mask('0010'));
  });
});
