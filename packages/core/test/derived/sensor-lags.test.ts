import { describe, expect, it } from 'vitest';
import { drawDrive, record, simulate } from '../../../../scripts/simulate/index.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { SENSOR_LAGS } from '../../src/derived/sensor-lags.js';
import { clock, driveOf } from '../rules/helpers.js';

describe('lag between air channels of simulated drives', () => {
  // One row is a sample: the estimate must find the late channel to within it.
  it.each(Array.from({ length: 12 }, (_, k) => 4100 + 37 * k))('seed %i: within one sample', (seed) => {
    const drawn = drawDrive({ seed, kind: 'inspection', plain: true });
    const sim = simulate(drawn.spec);
    const rate = [10, 20][seed % 2]!;
    const lag = ((seed * 7919) % 40) / 100;
    const recorded = record(sim, {
      seed,
      rate,
      channels: ['engineSpeed', 'vehicleSpeed', 'manifoldPressure', { id: 'airMassFlow', lag }],
    });
    const channels = Object.fromEntries(recorded.columns.map(({ id, values }) => [id, values]));
    const lags = driveOf(recorded.time, channels).derive(SENSOR_LAGS);
    if (isRefusal(lags)) throw new Error(lags.reason);
    const [found] = lags;
    expect(found).toMatchObject({ first: 'manifoldPressure', second: 'airMassFlow' });
    expect(Math.abs(found!.seconds - lag)).toBeLessThan(1 / rate);
  });
});

it('refuses what is not there or does not move', () => {
  const time = clock(60, 10);
  expect(isRefusal(driveOf(time, { manifoldPressure: () => 100 }).derive(SENSOR_LAGS))).toBe(true);
  expect(isRefusal(driveOf(time, { manifoldPressure: () => 100, airMassFlow: () => 5 }).derive(SENSOR_LAGS))).toBe(
    true,
  );
});
