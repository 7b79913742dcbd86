import { describe, expect, it } from 'vitest';
import { strays } from '../../src/derived/clutch-stray.js';

const ratio = (value: number) => ({ value, u: 0.001 * value, spread: 0 });
/** rpm per km/h */
const RATIOS = new Map([110, 70, 47, 36, 28, 23].map((value, k) => [k + 1, ratio(value)] as const));
const HZ = 10;

/** Ten seconds at 100 km/h, the pair standing at a ratio by time. */
function share(at: (t: number) => number, ratios = RATIOS, lowest = 3): number {
  const time = Float64Array.from({ length: 10 * HZ }, (_, k) => k / HZ);
  const output = new Float64Array(time.length).fill(100);
  const input = time.map((t) => 100 * at(t));
  const mask = strays({ at: time, input, output, quantum: 0.1 }, ratios, lowest);
  return mask.reduce((sum, x) => sum + x, 0) / mask.length;
}

describe('strays', () => {
  it.each([
    ['a gear', 36, 0],
    ['a gear with 4 % of tyre slip', 36 * 1.04, 0],
    ['a gear read 2 % low', 47 * 0.98, 0],
    ['a fourth gear that slips 13 %', 36 / 0.87, 1],
    ['a third gear that slips 15 %', 47 / 0.85, 1],
    ['a second gear that slips: low gears are not judged', 70 / 0.85, 0],
    ['beyond the highest gear', 20, 0],
  ])('%s', (_name, at, expected) => {
    expect(share(() => at)).toBe(expected);
  });

  it('no shift: its ratio moves on', () => {
    expect(share((t) => 47 - 11 * Math.min(1, Math.max(0, (t - 5) / 1.2)))).toBeLessThan(0.03);
  });

  it('nothing is between gears where fewer than two are known', () => {
    expect(share(() => 41, new Map([[3, ratio(47)]]))).toBe(0);
    expect(share(() => 41, new Map())).toBe(0);
  });

  it('by shafts all gears are judged', () => {
    expect(share(() => 70 / 0.85, RATIOS, 1)).toBe(1);
  });
});
