import { describe, expect, it } from 'vitest';
import { unstepped } from '../../src/derived/unstepped.js';

const time = Float64Array.from({ length: 400 }, (_, i) => i / 20);

describe('a reading in steps, drawn as lines', () => {
  it('follows a steady climb within a tenth of a step, where the reading itself is off by half of one', () => {
    const truth = time.map((t) => 40 + 1.7 * t);
    const read = truth.map(Math.round);
    const drawn = unstepped(read, time, 1);
    let worst = 0;
    let before = 0;
    // From the first step to the last.
    for (let i = 20; i < 380; i++) {
      worst = Math.max(worst, Math.abs(drawn[i]! - truth[i]!));
      before = Math.max(before, Math.abs(read[i]! - truth[i]!));
    }
    expect(before).toBeGreaterThan(0.45);
    expect(worst).toBeLessThan(0.1);
  });

  it('leaves leaps, long stands and absent samples as they are', () => {
    const leap = time.map((t) => (t < 10 ? 30 : 50));
    expect(unstepped(leap, time, 1)).toEqual(leap);
    const stands = time.map((t) => (t < 5 ? 30 : t < 15 ? 31 : 32));
    expect(unstepped(stands, time, 1)).toEqual(stands);
    const holes = time.map((t) => (t > 8 && t < 9 ? Number.NaN : Math.round(40 + t)));
    expect(Number.isNaN(unstepped(holes, time, 1)[170]!)).toBe(true);
    expect(unstepped(holes, time, 0)).toEqual(holes);
  });
});
