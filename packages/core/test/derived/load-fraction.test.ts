import { describe, expect, it } from 'vitest';
import { LOAD_FRACTION, type LoadFraction } from '../../src/derived/load-fraction.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { type DriveSpec, driveOf, ramp, sampled } from './helpers.js';

const HZ = 10;
const ROWS = 601;
const engineSpeed = sampled(
  ROWS,
  HZ,
  ramp([0, 800], [10, 800], [20, 1000], [30, 1000], [40, 5000], [50, 5000], [60, 2000]),
  0.25,
);

function load(spec: Omit<DriveSpec, 'hz'>): LoadFraction {
  const found = driveOf({ hz: HZ, ...spec }).derive(LOAD_FRACTION);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe('LOAD_FRACTION', () => {
  const torque = sampled(ROWS, HZ, ramp([0, 20], [30, 20], [40, 610], [50, 610], [51, 305]), 1);

  it('is torque over rated torque', () => {
    const found = load({ channels: { engineSpeed, engineTorque: torque }, vehicle: { engine: { ratedTorque: 610 } } });
    expect(found.basis).toBe('torque');
    expect(found.values[450]).toBeCloseTo(1, 9);
    expect(found.values[550]).toBeCloseTo(0.5, 2);
    expect([found.high[450], found.loaded[450], found.cruiseLow[450]]).toEqual([1, 1, 0]);
    expect([found.high[550], found.loaded[550], found.cruiseLow[550]]).toEqual([0, 1, 0]);
    expect([found.high[100], found.loaded[100], found.cruiseLow[100]]).toEqual([0, 0, 1]);
  });

  it('takes the recorded reference torque before the profile, and a percentage as it is', () => {
    const reference = new Float64Array(ROWS).fill(1220);
    const found = load({
      channels: { engineSpeed, engineTorque: torque, engineTorqueReference: reference },
      vehicle: { engine: { ratedTorque: 610 } },
    });
    expect(found.values[450]).toBeCloseTo(0.5, 9);
    const percent = load({ channels: { engineSpeed, engineTorquePercent: sampled(ROWS, HZ, (t) => t) } });
    expect(percent.values[450]).toBeCloseTo(0.45, 9);
  });

  it('is air mass per stroke over that at rated torque, within 15 % of a known engine', () => {
    // Handbook full load of a turbocharged petrol engine: 400 N.m at 4000 rpm = 167.6 kW at 285 g/kWh and lambda 0.88 of
    // 14.1: 47.8 kg/h of fuel, 164.7 g/s of air (common practice, no source; another path than the code's: by power).
    const power = (400 * 2 * Math.PI * 4000) / 60 / 1000;
    const air = (power * 285 * 0.88 * 14.1) / 3600;
    const found = load({
      channels: {
        engineSpeed: sampled(ROWS, HZ, (t) => (t > 1 ? 4000 : 3990)),
        airMassFlow: sampled(ROWS, HZ, (t) => (t > 1 ? air : 1)),
      },
      vehicle: { engine: { ratedTorque: 400 } },
    });
    expect(found.basis).toBe('air-mass');
    expect(found.values[450]).toBeCloseTo(1, 6);
    expect(found.u).toBeGreaterThan(0.1);
  });

  it('reads filling per cylinder and absolute load likewise', () => {
    const engine = { ratedTorque: 400, displacement: 2, cylinders: 4 };
    const perStroke = load({
      channels: { engineSpeed, airMassPerStroke: sampled(ROWS, HZ, (t) => (t > 1 ? 1234.5 : 100)) },
      vehicle: { engine },
    });
    // 1234.5 mg * 4 against the 4.938 g of two revolutions at 400 N.m (4 pi 400 / 3.6e6 * 285 * 0.88 * 14.1 = 4.9375).
    expect(perStroke.values[450]).toBeCloseTo(1, 3);
    const absolute = load({
      channels: { engineSpeed, engineLoadAbsolute: sampled(ROWS, HZ, (t) => (t > 1 ? 208.5 : 20)) },
      vehicle: { engine },
    });
    expect(absolute.values[450]).toBeCloseTo((2.085 * 1.184 * 2) / 4.9375, 3);
  });

  describe('with calculated load only', () => {
    const engineLoad = sampled(ROWS, HZ, ramp([0, 30], [20, 75], [30, 75], [40, 95], [50, 95], [52, 30]), 0.4);
    const pedalPosition = sampled(
      ROWS,
      HZ,
      ramp([0, 16], [10, 16], [20, 40], [30, 40], [36, 86], [50, 86], [51, 20]),
      0.4,
    );

    it('gives no fraction; 75 % at 1000 rpm is neither high nor load, 95 % at 5000 rpm and full pedal is', () => {
      const found = load({ channels: { engineSpeed, engineLoad, pedalPosition } });
      expect(found.basis).toBe('calculated-load');
      expect(found.values.every((x) => Number.isNaN(x))).toBe(true);
      expect([found.high[250], found.loaded[250]]).toEqual([0, 0]);
      expect([found.high[450], found.loaded[450], found.cruiseLow[450]]).toEqual([1, 1, 0]);
      expect(found.cruiseLow[590]).toBe(1);
      expect(found.highComplete).toBe(true);
    });

    it('cannot tell high load without a pedal, and says so', () => {
      const found = load({ channels: { engineSpeed, engineLoad } });
      expect(found.high.includes(1)).toBe(false);
      expect(found.loaded[450]).toBe(1);
      expect(found.highComplete).toBe(false);
    });

    it('never calls high what is below 85 %, below 2500 rpm or below 60 % pedal', () => {
      const found = load({ channels: { engineSpeed, engineLoad, pedalPosition } });
      for (let i = 0; i < ROWS; i++) {
        if (found.high[i] === 0) continue;
        expect(engineLoad[i]).toBeGreaterThanOrEqual(85);
        expect(engineSpeed[i]).toBeGreaterThanOrEqual(2500);
        expect((pedalPosition[i]! - 16) / 70).toBeGreaterThanOrEqual(0.6 - 0.01);
      }
    });
  });

  it('without any reference tells only what is low, against the highest of the drive itself', () => {
    const found = load({ channels: { engineSpeed, engineTorque: torque } });
    expect(found).toMatchObject({ basis: 'calculated-load', source: 'engineTorque', highComplete: false });
    expect(found.values[450]).toBeNaN();
    expect([found.cruiseLow[100], found.cruiseLow[450], found.loaded[450], found.high[450]]).toEqual([1, 0, 0, 0]);
    expect(load({ channels: { engineSpeed, manifoldPressure: torque } }).source).toBe('manifoldPressure');
  });

  it('is refused with nothing to go by, and with columns that never change', () => {
    const none = driveOf({ hz: HZ, channels: { engineSpeed } }).derive(LOAD_FRACTION);
    expect(isRefusal(none) && none.missing.channels).toEqual(['engineLoad']);
    expect(
      isRefusal(
        driveOf({ hz: HZ, channels: { engineSpeed, engineLoad: new Float64Array(ROWS).fill(40) } }).derive(
          LOAD_FRACTION,
        ),
      ),
    ).toBe(true);
  });
});
