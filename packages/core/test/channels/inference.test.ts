import { describe, expect, it } from 'vitest';
import { findChannel, inferGauge, inferSign, inferUnit } from '../../src/channels/index.js';

/** `n` values from `a` to `b`, evenly. */
function ramp(a: number, b: number, n = 200): Float64Array {
  return Float64Array.from({ length: n }, (_, i) => a + ((b - a) * i) / (n - 1));
}
const unit = (id: string, values: Float64Array, gauge?: boolean) =>
  inferUnit(findChannel(id)!.definition, values, gauge);

describe('inferUnit', () => {
  it('keeps the catalogue unit where the values are plausible in it', () => {
    // Coolant 20..96 (data/carobd): degF would be an engine that never warms, K is impossible.
    expect(unit('coolantTemperature', ramp(20, 96)).unit).toBe('degC');
    expect(unit('coolantTemperature', ramp(-5, 15)).unit).toBe('degC');
    expect(unit('coolantTemperature', ramp(80, 135)).unit).toBe('degC'); // overheating stays overheating
    expect(unit('transmissionOilTemperature', ramp(15, 131)).unit).toBe('degC');
    expect(unit('vehicleSpeed', ramp(0, 103)).unit).toBe('km/h');
    expect(unit('manifoldPressure', ramp(26, 101)).unit).toBe('kPa');
    expect(unit('pedalPosition', ramp(16, 88)).unit).toBe('%');
    expect(unit('lambda', ramp(0.8, 1.2)).unit).toBe('1');
    expect(unit('engineOilPressure', ramp(0.8, 5)).unit).toBe('bar');
    expect(unit('fuelTrimLong', ramp(-9, 7)).unit).toBe('%');
    expect(unit('gear', ramp(1, 6)).unit).toBe('1');
  });

  it('takes the only other unit that fits', () => {
    expect(unit('transmissionOilTemperature', ramp(70, 240)).unit).toBe('degF');
    expect(unit('coolantTemperature', ramp(60, 205)).unit).toBe('degF');
    expect(unit('coolantTemperature', ramp(290.15, 372.15)).unit).toBe('K');
    expect(unit('manifoldPressure', ramp(260, 2300)).unit).toBe('mbar');
    expect(unit('manifoldPressure', ramp(0.26, 2.3)).unit).toBe('bar');
    expect(unit('throttlePosition', ramp(0.12, 0.86)).unit).toBe('fraction');
    expect(
      unit(
        'throttlePosition',
        Float64Array.from({ length: 200 }, (_, i) => 30 + i),
      ).unit,
    ).toBe('raw8');
    expect(unit('lambda', ramp(11.5, 15.5)).unit).toBe('AFR');
    expect(unit('fuelTrimShort', ramp(0.85, 1.15)).unit).toBe('factor');
    expect(unit('systemVoltage', ramp(12100, 14400)).unit).toBe('mV');
  });

  it('names the candidates when several units fit, or none', () => {
    const pressure = unit('engineOilPressure', ramp(20, 900));
    expect(pressure.unit === undefined || pressure.unit === 'kPa').toBe(true);
    const both = unit('transmissionOilTemperature', ramp(70, 170));
    expect(both).toMatchObject({ unit: undefined, candidates: ['degC', 'degF'] });
    expect(unit('purgeDuty', ramp(0, 0.9))).toMatchObject({ unit: undefined, candidates: ['%', 'fraction'] });
    expect(unit('coolantTemperature', ramp(5000, 9000))).toMatchObject({ unit: undefined, candidates: [] });
  });

  it('ignores NaN and sentinels; without samples the catalogue unit stands', () => {
    const values = ramp(60, 205);
    for (let i = 0; i < values.length; i += 3) values[i] = i % 2 === 0 ? Number.NaN : 1e10;
    expect(unit('coolantTemperature', values).unit).toBe('degF');
    expect(unit('coolantTemperature', new Float64Array(0)).unit).toBe('degC');
    expect(unit('coolantTemperature', new Float64Array(9).fill(Number.NaN)).unit).toBe('degC');
  });
});

describe('inferGauge and inferSign', () => {
  it('tells relative from absolute pressure', () => {
    const manifold = findChannel('manifoldPressure')!.definition;
    const boost = findChannel('boostPressure')!.definition;
    expect(inferGauge(manifold, ramp(27, 220))).toEqual({ gauge: false });
    expect(inferGauge(manifold, ramp(-70, 120))).toEqual({ gauge: true });
    expect(inferGauge(boost, ramp(98, 230))).toEqual({ gauge: false });
    expect(inferGauge(boost, ramp(0, 130))).toEqual({ gauge: true });
    expect(inferGauge(findChannel('engineSpeed')!.definition, ramp(0, 1))).toEqual({ ambiguous: true });
  });

  it('finds the sign of knock retard', () => {
    const knock = findChannel('knockRetard.cylinder3')!.definition;
    expect(inferSign(knock, ramp(0, 6))).toEqual({ flip: false });
    expect(inferSign(knock, ramp(0, -6))).toEqual({ flip: true });
    expect(inferSign(knock, ramp(-6, 6))).toEqual({ ambiguous: true });
    expect(inferSign(knock, new Float64Array(5))).toEqual({ flip: false });
    expect(inferSign(findChannel('ignitionAdvance')!.definition, ramp(-6, -1))).toEqual({ flip: false });
  });
});
