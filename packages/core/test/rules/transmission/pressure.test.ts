import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { pressure } from '../../../src/rules/transmission/pressure.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

/** Command 10 bar (5 bar before 40 s), deviating by `bar` for `seconds` from 60 s on. */
function run(
  bar: number,
  { seconds = 3, command = 10, extra = {} as Record<string, Signal>, vehicle = car(), rate = 10 } = {},
): Result {
  const target = (t: number) => (t < 40 ? 5 : command);
  return runRule(
    pressure,
    driveOf(
      clock(100, rate),
      {
        transmissionOilPressureTarget: target,
        transmissionOilPressure: (t) => target(t) + 0.01 * Math.sin(9 * t) + (t >= 60 && t <= 60 + seconds ? bar : 0),
        transmissionOilTemperature: (t) => 80 + 0.01 * t,
        ...extra,
      },
      vehicle,
    ),
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);

describe('transmission.pressure', () => {
  // Noise 0.05 bar and 2 % tolerance of 10 bar over sqrt(3): bound 0.21 bar below the value.
  it.each([
    ['10 % exactly', -1, 'clear'],
    ['beyond 10 % by more than the uncertainty', -1.35, 'watch'],
    ['20 % exactly', -2, 'watch'],
    ['beyond 20 %', -2.35, 'repair'],
    ['too high counts as well', 1.35, 'watch'],
  ])('%s', (_name, bar, expected) => expect(level(run(bar))).toBe(expected));

  it.each([
    ['0.5 bar exactly at a low command', -0.5, 'clear'],
    ['beyond 0.5 bar', -0.75, 'watch'],
    ['beyond 1 bar', -1.3, 'repair'],
  ])('%s', (_name, bar, expected) => expect(level(run(bar, { command: 3 }))).toBe(expected));

  it('a deviation must last a second', () => {
    expect(level(run(-4, { seconds: 0.8 }))).toBe('clear');
    expect(level(run(-4, { seconds: 1.1 }))).toBe('repair');
  });

  it('is not fooled by cold fluid, steps of the command, a sensor a little off', () => {
    expect(level(run(-4, { extra: { transmissionOilTemperature: (t) => (t < 65 ? 35 : 50) } }))).toBe('clear');
    const hopping = (t: number) => (Math.floor(t / 0.4) % 2 === 0 ? 5 : 8);
    const late = (t: number) => (Math.floor((t - 0.25) / 0.4) % 2 === 0 ? 5 : 8);
    const steps = run(0, {
      extra: { transmissionOilPressureTarget: hopping, transmissionOilPressure: late },
      rate: 20,
    });
    expect(level(steps)).not.toBe('watch');
    expect(
      level(run(0, { extra: { transmissionOilPressure: (t) => (t < 40 ? 5 : 10) * 0.95 + 0.01 * Math.sin(9 * t) } })),
    ).toBe('clear');
  });

  it('limits of the profile count and are shown as such', () => {
    const vehicle = car({ limits: { 'transmission.pressure': { 'share-watch': { value: 15, unit: '%' } } } });
    const result = run(-1.35, { vehicle });
    expect(level(result)).toBe('clear');
    expect('limits' in result && result.limits?.find((l) => l.name === 'share-watch')).toMatchObject({
      value: 15,
      source: 'profile',
    });
  });

  it('without pressure, warmth or rate: unproven; a manual gearbox: not applicable', () => {
    const blind = driveOf(clock(20, 10), { engineSpeed: (t) => 900 + t });
    const result = runRule(pressure, blind);
    expect(result.outcome === 'unproven' && result.missing.channels).toContain('transmissionOilPressure');
    expect(run(0, { extra: { transmissionOilTemperature: (t) => 20 + 0.01 * t } }).outcome).toBe('unproven');
    const slow = run(-4, { rate: 1 });
    expect(slow.outcome === 'unproven' && slow.missing.conditions.join()).toContain('3 Hz');
    const manual = driveOf(clock(20, 10), { engineSpeed: (t) => 900 + t }, car({ transmission: { kind: 'manual' } }));
    expect(runRule(pressure, manual).outcome).toBe('not-applicable');
  });
});
