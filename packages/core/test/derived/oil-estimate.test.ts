import { describe, expect, it } from 'vitest';
import { CARS } from '../../../../scripts/simulate/index.js';
import { coldOil, OIL_ESTIMATE, type OilEstimate } from '../../src/derived/oil-estimate.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { oilFriction, WARM_UPS } from '../../src/derived/warm-up.js';
import { openDrive } from '../../src/engine/drive.js';
import { clock, driveOf, type Signal } from '../rules/helpers.js';
import { simulatedDrive } from './simulated.js';

const time = clock(900, 2);
const running: Signal = (t) => 1500 + 50 * Math.sin(t);
const estimateOf = (signals: Record<string, Signal>) =>
  driveOf(time, { engineSpeed: running, ...signals }).derive(OIL_ESTIMATE) as OilEstimate;
const row = (t: number): number => 2 * t;

describe('from the sensor', () => {
  it('is the sensor with its bounds, range ends left out', () => {
    const oil = estimateOf({ engineOilTemperature: (t) => (t < 30 ? -40 : Math.round(20 + t / 10)) });
    expect(oil.measured).toBe(true);
    expect(oil.values[row(10)]).toBeNaN();
    expect(oil.values[row(500)]).toBeCloseTo(70, 0);
    expect(oil.low[row(500)]!).toBeLessThan(oil.values[row(500)]!);
    expect(oil.high[row(500)]! - oil.values[row(500)]!).toBeLessThan(1.5);
  });
  it('does not believe one that never moves', () => {
    const signals = { engineOilTemperature: () => 20, coolantTemperature: (t: number) => Math.round(20 + t / 10) };
    expect(estimateOf(signals)).toMatchObject({ measured: false, source: 'coolantTemperature' });
    expect(
      isRefusal(driveOf(time, { engineSpeed: running, engineOilTemperature: () => 20 }).derive(OIL_ESTIMATE)),
    ).toBe(true);
  });
});

describe('from the coolant', () => {
  it('follows a ramp at the rate times the time constant behind it: first-order lag', () => {
    // After many time constants a ramp of 0.1 K/s is followed 30 x 0.1 = 3 K behind, by the slow bound 48 K (1 - e^-t/480).
    const oil = estimateOf({ coolantTemperature: (t) => 20 + t / 10 });
    expect(oil.values.length).toBe(time.length);
    // Friction at 1500 rpm lets it stand 4 K per bar and 1000 revolutions x 30 s higher.
    expect(110 - oil.high[row(900)]!).toBeCloseTo(3 - 4 * 30 * oilFriction(1500, 110), 0);
    expect(110 - oil.low[row(900)]!).toBeCloseTo(48 * (1 - Math.exp(-900 / 480)), 0);
    expect(oil.low[row(600)]!).toBeLessThan(oil.values[row(600)]!);
    expect(oil.values[row(600)]!).toBeLessThan(oil.high[row(600)]!);
  });
  it('may be cold or warm where the coolant was warm from the start', () => {
    const oil = estimateOf({ coolantTemperature: (t) => 88 + Math.round(2 * Math.sin(t / 20)) });
    expect(oil.high[0]).toBeGreaterThan(85);
    expect(oil.low[0]).toBe(0);
  });
});

it('cold rows are those of a running engine: surely within likely within possibly', () => {
  const signals = {
    engineSpeed: (t: number) => (t < 100 ? 0 : 1500 + 50 * Math.sin(t)),
    coolantTemperature: (t: number) => Math.min(90, 20 + t / 5),
  };
  const oil = driveOf(time, signals).derive(OIL_ESTIMATE) as OilEstimate;
  const cold = coldOil(oil, 60);
  const sum = (mask: Uint8Array) => mask.reduce((a, b) => a + b, 0);
  expect(cold.possibly[row(50)]).toBe(0);
  expect(cold.surely[row(150)]).toBe(1);
  expect(sum(cold.surely)).toBeLessThan(sum(cold.likely));
  expect(sum(cold.likely)).toBeLessThan(sum(cold.possibly));
});

describe('the lag model against simulated warm-ups', () => {
  // The simulator's oil is heated by friction and by the coolant, and cooled by the air: another form than a lag.
  it.each([
    [8101, 'winter'],
    [8106, 'winter'],
    [8103, 'thorough'],
    [8107, 'thorough'],
  ] as const)(
    'seed %i, %s: its bounds hold the oil while it is cold, and the warm-up that the sensor shows has a time constant between them',
    async (seed, kind) => {
      const car = CARS[seed % CARS.length]!.id;
      const { drive, sim } = await simulatedDrive({ seed, kind, car, plain: true });
      const { recording } = drive;
      const channels = new Map([...recording.channels].filter(([id]) => id !== 'engineOilTemperature'));
      expect(channels.size).toBe(recording.channels.size - 1);
      const oil = openDrive({ ...recording, channels }, drive.vehicle, 0).derive(OIL_ESTIMATE) as OilEstimate;
      expect(oil.measured).toBe(false);
      const truth = sim.signals.get('engineOilTemperature')!;
      let cold = 0;
      let held = 0;
      for (let i = 0; i < drive.time.length; i++) {
        const real = truth[Math.min(sim.samples - 1, Math.round(drive.time[i]! * sim.rate))]!;
        if (oil.running[i] === 0 || real >= 60) continue;
        cold++;
        // Whole degrees of the coolant, and the place of its sensor.
        if (real >= oil.low[i]! - 1.5 && real <= oil.high[i]! + 1.5) held++;
      }
      expect(held / Math.max(1, cold)).toBeGreaterThanOrEqual(0.95);
      expect(cold * (drive.time[1]! - drive.time[0]!)).toBeGreaterThan(60);
      const fitted = drive.derive(WARM_UPS);
      if (isRefusal(fitted) || isRefusal(fitted.oil)) throw new Error('no warm-up');
      const { tau, rate, rateU } = fitted.oil;
      expect(rate - 1.96 * rateU).toBeLessThan(1 / 30);
      expect(tau).toBeLessThan(480);
    },
  );
});
