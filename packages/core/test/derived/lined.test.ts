import { expect, it } from 'vitest';
import { lined } from '../../src/derived/lined.js';
import { driveOf } from './helpers.js';

it('draws a channel of 5 Hz in rows of 20 Hz as lines between its samples', () => {
  const held = Float64Array.from({ length: 40 }, (_, i) => Math.floor(i / 4) * 4);
  const drive = driveOf({ hz: 20, channels: { vehicleSpeed: [...held] } });
  const fresh = Int32Array.from({ length: 10 }, (_, k) => 4 * k);
  const drawn = lined(drive, held, fresh, 5);
  for (let i = 0; i <= 36; i++) expect(drawn[i]).toBeCloseTo(i, 9);
  // After the last sample nothing is known.
  expect([...drawn.subarray(37)]).toEqual([36, 36, 36]);
  // Measured in each row, it stays as it is.
  expect(lined(drive, held, fresh, 20)).toBe(held);
});

it('draws nothing over samples further apart than 2.5 of their intervals', () => {
  const held = Float64Array.from({ length: 30 }, (_, i) => (i < 20 ? 0 : 20));
  const drive = driveOf({ hz: 20, channels: { vehicleSpeed: [...held] } });
  expect([...lined(drive, held, Int32Array.from([0, 20]), 5)]).toEqual([...held]);
});
