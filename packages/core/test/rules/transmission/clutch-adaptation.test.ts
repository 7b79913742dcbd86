import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { clutchAdaptation } from '../../../src/rules/transmission/clutch-adaptation.js';
import { car, clock, driveOf, runRule } from '../helpers.js';

const BANDS = car({
  transmission: { kind: 'dual-clutch' },
  limits: {
    'transmission.clutch-adaptation': {
      'touch-point-low': { value: 1, unit: 'bar' },
      'touch-point-high': { value: 3, unit: 'bar' },
    },
  },
});

function drive(first: number, second: number, odometer?: number, vehicle = BANDS, correction?: number) {
  return driveOf(
    clock(5, 2),
    {
      'clutchTouchPoint.clutch1': () => first,
      'clutchTouchPoint.clutch2': () => second,
      ...(odometer === undefined ? {} : { odometer: () => odometer }),
      ...(correction === undefined ? {} : { 'clutchAdaptation.clutch1': () => correction }),
    },
    vehicle,
  );
}

const level = (result: Result): string => (result.outcome === 'finding' ? `${result.severity}` : result.outcome);

describe('transmission.clutch-adaptation', () => {
  // The band is 2 bar wide; a hundredth of it is the uncertainty.
  it.each([
    ['inside', 2, 'clear'],
    ['upper end exactly', 3, 'clear'],
    ['beyond the upper end', 3.05, 'repair'],
    ['lower end exactly', 1, 'clear'],
    ['below the lower end', 0.95, 'repair'],
  ])('%s', (_name, value, expected) => expect(level(runRule(clutchAdaptation, drive(value, 2.1)))).toBe(expected));

  it('shows the band as the user stated it, and names the clutch', () => {
    const result = runRule(clutchAdaptation, drive(2, 3.4));
    expect(result.summary).toContain('clutch 2');
    expect('limits' in result && result.limits?.find((l) => l.name === 'touch-point-high')).toMatchObject({
      value: 3,
      source: 'profile',
    });
  });

  it('names every value outside its band', () => {
    const limits = {
      'transmission.clutch-adaptation': {
        ...BANDS.limits['transmission.clutch-adaptation'],
        'adaptation-low': { value: -20, unit: '%' },
        'adaptation-high': { value: 20, unit: '%' },
      },
    };
    const { summary } = runRule(clutchAdaptation, drive(2, 3.4, undefined, { ...BANDS, limits }, -34));
    expect(summary).toMatch(/touch point of clutch 2 stands at 3\.4 bar/);
    expect(summary).toMatch(/correction of clutch 1 stands at -34 %, outside its band of -20 to 20 %/);
  });

  it('drift per 5000 km over several readings, in any order', () => {
    // 0.4 bar are 20 % of the band.
    const over = (moved: number) =>
      level(runRule(clutchAdaptation, [drive(1.5 + moved, 2.1, 45_000), drive(1.5, 2.1, 40_000)]));
    expect(over(0.4)).toBe('clear');
    expect(over(0.45)).toBe('watch');
    expect(level(runRule(clutchAdaptation, [drive(1.5, 2.1, 40_000), drive(2.5, 2.1, 40_400)]))).toBe('clear');
  });

  it('relearned: open, with a question to the seller', () => {
    for (const each of [drive(2, 2), drive(1.9, 2.1, undefined, BANDS, 0)]) {
      const result = runRule(clutchAdaptation, each);
      expect(result.outcome === 'unproven' && result.missing.conditions.join()).toContain('seller');
    }
  });

  it('without a band, or without values: unproven; a manual gearbox: not applicable', () => {
    const bare = runRule(clutchAdaptation, drive(2, 9, undefined, car({ transmission: { kind: 'dual-clutch' } })));
    expect(bare.outcome === 'unproven' && bare.missing.conditions.join()).toContain('profile');
    const none = runRule(clutchAdaptation, driveOf(clock(5, 2), { engineSpeed: (t) => 800 + t }, BANDS));
    expect(none.outcome === 'unproven' && none.missing.channels).toContain('clutchTouchPoint');
    expect(runRule(clutchAdaptation, drive(2, 2.1, undefined, car({ transmission: { kind: 'manual' } }))).outcome).toBe(
      'not-applicable',
    );
  });
});
