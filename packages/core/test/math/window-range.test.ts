import { expect, it } from 'vitest';
import { windowRange } from '../../src/math/window-range.js';
import { evenly } from './random.js';

it('is what a search through each window gives, with NaN passed over', () => {
  const random = evenly(3);
  const time = Float64Array.from({ length: 300 }, (_, i) => i / 10);
  const values = time.map(() => (random() < 0.1 ? Number.NaN : Math.round(20 * random())));
  const found = windowRange(values, time, 1);
  for (let i = 0; i < time.length; i++) {
    const window = Array.from(values.slice(Math.max(0, i - 10), i + 1)).filter((x) => !Number.isNaN(x));
    expect(found[i]).toBe(Math.max(...window) - Math.min(...window));
  }
  expect(windowRange(Float64Array.of(Number.NaN), Float64Array.of(0), 1)[0]).toBeNaN();
});
