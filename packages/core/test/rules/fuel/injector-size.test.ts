import { describe, expect, it } from 'vitest';
import { fuelFlow } from '../../../src/physics/fuel.js';
import { injectorSize } from '../../../src/rules/fuel/injector-size.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';
import { measure, partsOf } from './fuel-drive.js';

const DEAD = 0.9;
interface Wish {
  /** g/s at 300 kPa over the manifold. */
  readonly flow?: number;
  readonly claims?: Vehicle['claims'];
  readonly fuel?: 'E0' | 'E85';
  /** Stoichiometric ratio that the engine really burns. */
  readonly ratio?: number;
  readonly meter?: number;
  /** Gauge fuel pressure, kPa, from manifold gauge pressure. */
  readonly pressure?: (gauge: number) => number;
  readonly injection?: 'port' | 'both';
  readonly second?: number;
  readonly without?: readonly string[];
}

/** A 2 L four-cylinder in steps of speed and load, held four seconds each. */
function drive(wish: Wish = {}) {
  const {
    flow = 6,
    claims = {},
    fuel = 'E0',
    ratio = 14.6,
    meter = 1,
    pressure = () => 300,
    injection = 'port',
    second = 0,
    without = [],
  } = wish;
  const step = (t: number) => Math.floor(t / 4);
  const rpm = (t: number) => [1000, 1500, 2200, 3000, 3800][step(t) % 5]!;
  const map = (t: number) => [38, 55, 70, 85, 96, 140][Math.floor(step(t) / 5) % 6]!;
  const air = (t: number) => ((0.9 * map(t) * 1000 * 2e-3 * rpm(t)) / (287.05 * 303.15 * 120)) * 1000;
  const time = (t: number) => {
    const mass = (fuelFlow(air(t), 1, ratio) * 120_000) / (rpm(t) * 4);
    const drop = pressure(map(t) - 101) - (map(t) - 101);
    return (DEAD + mass / (flow * Math.sqrt(drop / 300))) * (map(t) > 80 ? 1 - second : 1);
  };
  const wiggle = (t: number) => 0.002 * ((Math.round(t * 10) * 7) % 5);
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => rpm(t) + (Math.round(t * 10) % 3),
    vehicleSpeed: (t) => rpm(t) / 40,
    coolantTemperature: (t) => 90 + (Math.round(t / 5) % 2),
    manifoldPressure: (t) => map(t) + wiggle(t),
    barometricPressure: () => 101,
    intakeAirTemperature: (t) => 30 + wiggle(t),
    airMassFlow: (t) => meter * air(t) * (1 + wiggle(t)),
    'lambda.bank1': (t) => 1 + wiggle(t),
    injectionTime: (t) => time(t) + wiggle(t),
    fuelRailPressure: (t) => pressure(map(t) - 101) + wiggle(t),
  };
  for (const id of without) delete signals[id];
  const engine = { displacement: 2, cylinders: 4, fuel, injection } as const;
  return driveOf(clock(240, 10), signals, { ...car({ engine }), claims });
}
const judged = (wish?: Wish) => runRule(injectorSize, drive(wish));
const VOLUME = (6 * 60) / 0.745;

describe('fuel.injector-size', () => {
  it('finds flow and opening delay from the line', () => {
    const result = judged({ claims: { injectors: VOLUME } });
    expect(result.outcome).toBe('clear');
    expect(Math.abs(measure(result, 'flow') / VOLUME - 1)).toBeLessThan(0.02);
    expect(Math.abs(measure(result, 'dead') - DEAD)).toBeLessThan(0.05);
    const [low, high] = [measure(result, 'flowLow'), measure(result, 'flowHigh')];
    expect((high - low) / 2 / VOLUME).toBeGreaterThan(0.118);
    expect((high - low) / 2 / VOLUME).toBeLessThan(0.135);
  });

  it.each([
    [0.92, 'clear'],
    [1.09, 'clear'],
    [0.8, 'finding'],
    [1.2, 'finding'],
  ])('claim of %f of what is fitted: %s', (factor, outcome) => {
    const result = judged({ claims: { injectors: factor * VOLUME } });
    expect(result.outcome).toBe(outcome);
    if (result.outcome === 'finding') {
      expect(result.severity).toBe('watch');
      expect(String(result.causes)).toMatch(factor < 1 ? /larger injectors/ : /smaller injectors/);
    }
  });

  it('brings the claim to its own pressure', () => {
    // 300 kPa give VOLUME; 400 kPa give sqrt(4/3) of it.
    const named = VOLUME * Math.sqrt(4 / 3);
    expect(judged({ claims: { injectors: named * 1.08 } }).outcome).toBe('finding');
    expect(judged({ claims: { injectors: named * 1.08, injectorPressure: 400 } }).outcome).toBe('clear');
  });

  it('is not fooled by pressure, ethanol, a second set, or a rescaled meter', () => {
    const claims = { injectors: VOLUME };
    for (const pressure of [(g: number) => 300 + g, (g: number) => 500 + 0 * g])
      expect(Math.abs(measure(judged({ claims, pressure }), 'flow') / VOLUME - 1)).toBeLessThan(0.03);
    const ethanol = judged({ claims: { injectors: (6 * 60) / 0.783 }, fuel: 'E85', ratio: 9.82 });
    expect(ethanol.outcome).toBe('clear');
    expect(judged({ claims, second: 0.4 }).outcome).toBe('unproven');
    expect(judged({ claims, injection: 'both' }).outcome).toBe('unproven');
    // The meter reads 17 % low: a filling of 0.75 is no engine's, and the interval says so.
    const rescaled = judged({ claims, meter: 0.83 });
    expect(rescaled.outcome).not.toBe('finding');
    expect(partsOf(rescaled).limit('floor-rescaled')).toBeDefined();
  });

  it('says what is missing', () => {
    const noClaim = judged();
    expect(noClaim.outcome === 'unproven' && noClaim.missing.conditions).toEqual([
      'vehicle profile with claims.injectors',
    ]);
    const noAir = judged({ without: ['airMassFlow'] });
    expect(noAir.outcome === 'unproven' && noAir.missing.channels).toEqual(['airMassFlow']);
    const noTime = judged({ without: ['injectionTime'] });
    expect(noTime.outcome === 'unproven' && noTime.missing.channels).toContain('injectionTime');
    const noLambda = judged({ without: ['lambda.bank1'] });
    expect(noLambda.outcome === 'unproven' && noLambda.missing.channels).toEqual(['lambda']);
  });
});
