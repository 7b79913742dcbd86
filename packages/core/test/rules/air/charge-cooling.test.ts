import { describe, expect, it } from 'vitest';
import { compressorOutlet } from '../../../src/physics/compressor.js';
import { chargeCooling } from '../../../src/rules/air/charge-cooling.js';
import { runRule } from '../helpers.js';
import { charge, pullDrive, type Read, type Wish } from './pulls.js';

const AMBIENT = 20;
// Outlet over inlet pressure as the rule reads it: 4 kPa of cooler, 2 % of intake.
const HOT = compressorOutlet(AMBIENT + 5, 204 / 98, 0.7);
/** Charge temperature at the end of a pull for an effectiveness. */
const behind = (effectiveness: number): number => HOT - effectiveness * (HOT - AMBIENT);
/** Rises from `start` within two seconds and stays. */
const rising =
  (effectiveness: number, start = 24): Read =>
  (s) =>
    s < 0 ? start : start + (behind(effectiveness) - start) * Math.min(1, s / 2);
const wish = (read: Read, more: Wish = {}): Wish => ({
  quantum: { chargeAirTemperature: 0.1 },
  ...more,
  more: { manifoldPressure: charge, ambientTemperature: () => AMBIENT, chargeAirTemperature: read, ...more.more },
});
const judged = (read: Read, more?: Wish) => runRule(chargeCooling, pullDrive(wish(read, more)));
const told = (read: Read, more?: Wish) => {
  const result = judged(read, more);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // Compressor efficiency, pressures and temperatures leave about 0.03: a guard band of 0.05.
  it.each([
    [0.85, 'clear'],
    [0.65, 'clear'],
    [0.62, 'clear'],
    [0.58, 'watch'],
    [0.5, 'watch'],
    [0.38, 'repair'],
  ])('effectiveness of %f', (effectiveness, outcome) => {
    // From a warm start, so that the rise stays out of it.
    expect(told(rising(effectiveness, behind(effectiveness) - 20))).toBe(outcome);
    const result = judged(rising(effectiveness, behind(effectiveness) - 20));
    if (result.outcome !== 'clear' && result.outcome !== 'finding') throw new Error(result.summary);
    const { measures } = result;
    expect(Number(measures?.effectiveness?.value)).toBeCloseTo(effectiveness, 2);
    expect(Number(measures?.effectivenessLow?.value)).toBeLessThan(effectiveness);
    expect(Number(measures?.effectivenessHigh?.value)).toBeGreaterThan(effectiveness);
  });

  it.each([
    [25, 'unproven'],
    [26, 'unproven'],
    [27, 'watch'],
  ])('a rise of %f K in pulls too short for the effectiveness', (rise, outcome) => {
    expect(told((s) => (s < 0 ? 16 : 16 + rise * Math.min(1, s / 3)), { seconds: 5 })).toBe(outcome);
  });

  it('a rise counts beside a low effectiveness, which leads the summary, and not beside a good one', () => {
    expect(told(rising(0.75, behind(0.75) - 35))).toBe('clear');
    const near = judged(rising(0.62, behind(0.62) - 35));
    expect(near).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(near.summary).toMatch(/effectiveness 0\.6.*near the limit.*charge air rose by 35 K/);
  });

  it('takes the limits of the profile', () => {
    const vehicle = { limits: { 'air.charge-cooling': { 'effectiveness-watch': { value: 0.4, unit: '1' } } } };
    expect(told(rising(0.5, behind(0.5) - 20), { vehicle })).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('a sensor before the compressor, or of unknown place', () => {
    const intake = (read: Read, place?: 'before-compressor' | 'manifold'): Wish => ({
      more: { intakeAirTemperature: read },
      without: ['chargeAirTemperature'],
      ...(place === undefined ? {} : { place: { intakeAirTemperature: place } }),
    });
    expect(
      judged(
        rising(0.4),
        intake((s) => (s < 0 ? 24 : 25)),
      ),
    ).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['chargeAirTemperature'] },
    });
    expect(told(rising(0.4), intake(rising(0.4), 'before-compressor'))).toBe('unproven');
    expect(told(rising(0.4), intake(rising(0.3), 'manifold'))).toBe('repair');
    // It rises with boost every time: behind the cooler, said so.
    const inferred = judged(rising(0.4), intake(rising(0.3)));
    expect(inferred).toMatchObject({ outcome: 'finding' });
    expect(inferred.outcome === 'finding' && inferred.notes?.join()).toMatch(/place of the temperature is not told/);
  });
  it('heat soaked up while standing', () => {
    // Washed out by the first air of the pull, and back some seconds after it.
    const after = (t: number): boolean => t > 30 && (t - 30) % 25 < 14;
    expect(told((s, _p, t) => (s >= 0 ? 75 - 5 * Math.min(4, s) : after(t) ? 55 : 75))).toBe('unproven');
  });
  it('pressure that stands at 255 kPa', () => {
    const clipped: Read = (s, p, t, tick) => Math.min(255, 1.5 * charge(s, p, t, tick) - (s < 0 ? 50 : 0));
    expect(told(rising(0.4), { more: { manifoldPressure: clipped } })).toBe('unproven');
  });
});

describe('unproven', () => {
  it.each([['chargeAirTemperature'], ['manifoldPressure'], ['pedalPosition']])('without %s', (id) => {
    expect(judged(rising(0.4), { without: [id] })).toMatchObject({ outcome: 'unproven', missing: { channels: [id] } });
  });
  it('with pulls that are too short', () => expect(told(rising(0.85), { seconds: 5 })).toBe('unproven'));
});
