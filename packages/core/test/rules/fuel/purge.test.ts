import { describe, expect, it } from 'vitest';
import { purge } from '../../../src/rules/fuel/purge.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';
import { measure, partsOf } from './fuel-drive.js';

interface Wish {
  /** Points by which the trim moves, two seconds after the valve. */
  readonly effect?: number;
  readonly seconds?: number;
  /** kPa by which the tank rises within 4 s of boost. */
  readonly rise?: number;
  /** The trim moves with engine speed instead. */
  readonly byLoad?: boolean;
  readonly without?: readonly string[];
}
const open = (t: number): boolean => t > 30 && t % 30 < 15;
const boosted = (t: number): number => (t % 60 >= 50 && t % 60 < 55 ? (t % 60) - 50 : -1);

function drive({ effect = 0, seconds = 400, rise = 0, byLoad = false, without = [] }: Wish = {}) {
  const q = (x: number) => Math.round(x / 0.78) * 0.78;
  const signals: Record<string, Signal> = {
    purgeDuty: (t) => (open(t) ? 40 : 0),
    'fuelTrimShort.bank1': (t) =>
      q((t > 30 && open(t - 2) && !(t % 30 < 2) ? effect : 0) + (Math.round(t * 2) % 2) * 0.8),
    'fuelTrimLong.bank1': (t) => q(1.6 + 0.78 * (Math.round(t / 60) % 2)),
    fuelSystemStatus: () => 2,
    engineSpeed: (t) => 2000 + (byLoad && open(t) ? 900 : 0) + (Math.round(t * 5) % 4),
    vehicleSpeed: (t) => (t < 12 ? 0 : 60 + (Math.round(t) % 2)),
    pedalPosition: (t) => (t < 12 ? 0 : 20 + (Math.round(t * 3) % 3)),
    coolantTemperature: (t) => 90 + (Math.round(t / 5) % 2),
    manifoldPressure: (t) => (boosted(t) >= 0 ? 160 : 60) + 0.1 * (Math.round(t * 5) % 3),
    barometricPressure: () => 101,
    fuelTankPressure: (t) => (boosted(t) >= 0 ? (rise * boosted(t)) / 4.9 : 0) + 0.01 * (Math.round(t * 5) % 3),
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(seconds, 5), signals, car());
}
const judged = (wish?: Wish) => runRule(purge, drive(wish));

describe('fuel.purge', () => {
  it.each([
    [-4, 'clear'],
    [-15, 'clear'],
    [-18, 'finding'],
    [18, 'finding'],
  ])('%i points: %s', (effect, outcome) => {
    const result = judged({ effect });
    expect(result.outcome).toBe(outcome);
    expect(Math.abs(measure(result, 'effect') - effect)).toBeLessThan(1.3);
    if (result.outcome === 'finding') {
      expect(result.severity).toBe('watch');
      expect(String(result.causes)).toMatch(effect < 0 ? /canister full/ : /leak in the purge line/);
    }
  });

  it('repair when boost reaches the tank', () => {
    expect(judged({ rise: 0.5 }).outcome).toBe('clear');
    const result = judged({ rise: 0.9 });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('boost reaches the tank');
  });

  it('is not fooled by load, few steps, a tank that is just warm; says what is missing', () => {
    expect(judged({ effect: -25, byLoad: true }).outcome).toBe('unproven');
    const few = judged({ effect: -25, seconds: 120 });
    expect(few.outcome === 'unproven' && few.missing.conditions[0]).toContain('10 openings');
    const noTrim = judged({ without: ['fuelTrimShort.bank1', 'fuelTankPressure'] });
    expect(noTrim.outcome === 'unproven' && noTrim.missing.channels).toEqual(['fuelTrimShort']);
    const noDuty = judged({ without: ['purgeDuty'] });
    expect(noDuty.outcome === 'unproven' && noDuty.missing.channels).toEqual(['purgeDuty']);
    expect(judged({ without: ['fuelTankPressure'] }).summary).toContain('tank pressure under boost was not shown');
  });

  it('takes the limit of the profile; steps of several drives count together', () => {
    const limits = { 'fuel.purge': { watch: { value: 6, unit: '%' } } };
    const own = (input: number) => ({ ...drive({ effect: -9, seconds: 230 }), input, vehicle: { ...car(), limits } });
    expect(runRule(purge, [own(0)] as ReturnType<typeof drive>[]).outcome).toBe('finding');
    const result = runRule(purge, [own(0), own(1)] as ReturnType<typeof drive>[]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(measure(result, 'steps')).toBeGreaterThan(20);
    expect(partsOf(result).limit('watch')).toMatchObject({ value: 6, source: 'profile' });
  });
});
