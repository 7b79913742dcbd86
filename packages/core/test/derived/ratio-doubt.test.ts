import { describe, expect, it } from 'vitest';
import { LEARNED_RATIOS, type LearnedRatio, type LearnedRatios } from '../../src/derived/ratio-clusters.js';
import { lagOnly } from '../../src/derived/ratio-correction.js';
import { matchRatios } from '../../src/derived/ratio-matching.js';
import { heapsOf, refined } from '../../src/derived/ratio-refined.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { driveOf } from './helpers.js';

function learned(hz: number, v: readonly number[], n: readonly number[], kind?: 'dual-clutch'): LearnedRatios {
  const vehicle = kind === undefined ? {} : { transmission: { kind }, driveline: { driven: 'all' as const } };
  const found = driveOf({ hz, channels: { vehicleSpeed: v, engineSpeed: n }, vehicle }).derive(LEARNED_RATIOS);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

const rows = (count: number, hz: number) => Array.from({ length: count }, (_, i) => i / hz);

describe('heaps that are no clear gears', () => {
  it('ratios spread evenly, as hunting between two gears leaves in a slow log, are told with an uncertainty of 10 %', () => {
    const count = 300;
    const fill = (f: (k: number) => number) => Float64Array.from({ length: count }, (_, k) => f(k));
    const zero = fill(() => 0);
    const data = {
      ...{ row: new Int32Array(count), time: fill((k) => k), v: fill((k) => 15 + (k % 7)), n: fill(() => 2000) },
      ...{ x: zero, u: fill(() => 0.01), growth: zero, light: zero, faint: zero, open: new Uint8Array(count) },
      ...{
        hydraulic: false,
        stride: 1,
        idle: 800,
        interval: 1,
        quantum: 1,
        geared: false,
        shaft: 'engineSpeed',
        road: 'vehicleSpeed',
      },
    };
    const heapAt = (x: Float64Array) => refined(data, heapsOf(x, [4.8]), 0, lagOnly(0), 0.15);
    const evenly = heapAt(fill((k) => 4.6 + (0.4 * k) / count));
    expect(evenly!.u / evenly!.value).toBeGreaterThan(0.09);
    const heaped = heapAt(fill((k) => 4.8 + 0.02 * Math.sin(k)));
    expect(heaped!.u / heaped!.value).toBeLessThan(0.02);
  });

  it('a clutch held slipping at a crawl does not move first gear', () => {
    const hz = 10;
    const time = rows(4000, hz);
    // Two minutes at 8 km/h and 1100 rpm on a slipping clutch; a minute in first gear proper; then second and third.
    const v = time.map((t) =>
      t < 20 ? 0 : t < 140 ? 8.2 : t < 170 ? 20 + 8 * Math.sin(t / 3) : 45 + 10 * Math.sin(t / 7),
    );
    const n = time.map((t, i) => (t < 20 ? 780 : t < 140 ? 1100 : v[i]! * (t < 170 ? 124 : t < 280 ? 82 : 57)));
    const { ratios } = learned(hz, v, n, 'dual-clutch');
    expect(ratios.map(({ value }) => Math.round(value))).toEqual([124, 82, 57]);
  });
});

describe('more heaps than gears', () => {
  const ratio = (value: number, samples: number): LearnedRatio => ({
    value,
    u: 0.003 * value,
    apparent: value,
    samples,
    number: Number.NaN,
  });

  it('leaves out the heap that fits no gear, though it holds as many samples as one that does', () => {
    const gears = [3.3, 2.04, 1.49, 1.17, 0.95, 0.79];
    const heaps = [ratio(157, 54), ...gears.map((gear, k) => ratio(29.5 * gear, k === 0 ? 54 : 300))];
    expect(matchRatios(heaps, gears, Number.NaN).matches).toEqual(gears.map((_, k) => ({ index: k + 1, gear: k + 1 })));
  });
});
