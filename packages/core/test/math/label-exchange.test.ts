import { describe, expect, it } from 'vitest';
import { exchangedLevel, type Place, placeDifferences } from '../../src/math/label-exchange.js';
import { evenly } from './random.js';

/** Every unit in every place. */
function placesOf(rows: readonly (readonly number[])[]): Place[] {
  return rows.map((values, p) => ({
    unit: Int32Array.from(values, (_, i) => i),
    value: Float64Array.from(values),
    pooled: [p],
  }));
}
const sides = (m: number, n: number): Uint8Array => Uint8Array.from({ length: m + n }, (_, i) => (i < m ? 0 : 1));

// Student's sleep data (1908), as in R's data set `sleep`.
const FIRST = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2];
const SECOND = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

describe('placeDifferences', () => {
  it("is Student's t with pooled spread (R: t.test(extra ~ group, var.equal = TRUE) gives t = -1.8608)", () => {
    const [found] = placeDifferences(placesOf([[...FIRST, ...SECOND]]), sides(10, 10));
    expect(found!.difference).toBeCloseTo(1.58, 12);
    expect(found!.difference / found!.error).toBeCloseTo(1.8608, 4);
  });

  it('pools the spread of neighbours, and says nothing where a side has one unit', () => {
    const [a, b] = placesOf([
      [0, 2, 10, 12],
      [0, 6, 0, 6],
    ]);
    // Squares 2 + 2 + 18 + 18 over 4 degrees of freedom.
    const [pooled] = placeDifferences([{ ...a!, pooled: [0, 1] }, b!], sides(2, 2));
    expect(pooled!.error).toBeCloseTo(Math.sqrt(10), 12);
    expect(placeDifferences([a!], Uint8Array.of(0, 1, 1, 1))[0]!.error).toBeNaN();
  });
});

describe('exchangedLevel', () => {
  it('of one place comes near to the level of all exchanges, counted out', () => {
    const values = [0.3, -0.5, 1.1, 0.2, 0.9, -0.7, 1.6, 2.2, 0.4, 1.3];
    const all: number[] = [];
    for (let mask = 0; mask < 1 << 10; mask++) {
      const labels = Uint8Array.from({ length: 10 }, (_, i) => (mask >> i) & 1);
      if (labels.reduce((a, b) => a + b, 0) !== 5) continue;
      const [{ difference, error }] = placeDifferences(placesOf([values]), labels) as [
        { difference: number; error: number },
      ];
      all.push(Math.abs(difference) / error);
    }
    all.sort((a, b) => a - b);
    const level = exchangedLevel(placesOf([values]), sides(5, 5), 0.1);
    // 999 of 252 exchanges at random: within the levels of 8.5 and 11.5 %.
    expect(level).toBeGreaterThanOrEqual(all[Math.floor(0.885 * all.length)]!);
    expect(level).toBeLessThanOrEqual(all[Math.ceil(0.915 * all.length) - 1]!);
  });

  it('places that repeat one another need no more than one, places apart need more', () => {
    const random = evenly(3);
    const normal = (): number => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
    const row = (): number[] => Array.from({ length: 16 }, normal);
    const one = row();
    const single = exchangedLevel(placesOf([one]), sides(8, 8), 0.05);
    expect(exchangedLevel(placesOf(Array.from({ length: 8 }, () => one)), sides(8, 8), 0.05)).toBe(single);
    expect(exchangedLevel(placesOf(Array.from({ length: 8 }, row)), sides(8, 8), 0.05)).toBeGreaterThan(single + 0.3);
  });

  it('is the same each time, and infinite without a place', () => {
    const places = placesOf([[1, 2, 3, 4, 5, 6, 7, 9]]);
    expect(exchangedLevel(places, sides(4, 4), 0.05)).toBe(exchangedLevel(places, sides(4, 4), 0.05));
    expect(exchangedLevel([], sides(4, 4), 0.05)).toBe(Number.POSITIVE_INFINITY);
  });
});
