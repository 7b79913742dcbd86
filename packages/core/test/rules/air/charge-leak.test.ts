import { describe, expect, it } from 'vitest';
import { speedDensity } from '../../../src/physics/air-mass.js';
import { chargeLeak } from '../../../src/rules/air/charge-leak.js';
import { runRule } from '../helpers.js';
import { pullDrive, type Read, type Wish } from './pulls.js';

interface Leak {
  /** Share of the metered air that escapes under boost; its course over the pull. */
  readonly share?: (s: number) => number;
  /** Share of air that the mixture does not know of is burnt rich. */
  readonly rich?: (s: number) => number;
  readonly short?: number;
  readonly duty?: number;
  readonly blown?: number;
}

/** Steady driving off boost at many speeds and pressures, then pulls at 200 kPa. */
const rpm: Read = (s, _p, t, tick) => (s < 0 ? 1500 + 40 * ((t * 7) % 60) + tick : 2000 + 500 * s);
const pressure: Read = (s, _p, t) => (s < 0 ? 40 + 4 * ((Math.floor(t / 2) * 5) % 14) : Math.min(200, 100 + 90 * s));
const charge: Read = (s) => (s < 0 ? 30 : Math.min(45, 30 + 8 * s));

function wish(leak: Leak = {}, more: Wish = {}): Wish {
  const share = (s: number): number => (s < 0 ? 0 : (leak.share?.(s) ?? 0));
  const steady: Read = (s, p, t, tick) => rpm(s, p, s < 0 ? Math.floor(t / 2) * 2 : t, tick);
  const flow: Read = (s, p, t, tick) => {
    const n = steady(s, p, t, tick);
    const x = (n - 3000) / 3000;
    const breathed = 0.95 - 0.05 * x * x - (0.08 * 100) / pressure(s, p, t, tick);
    return (
      speedDensity(pressure(s, p, t, tick), charge(s, p, t, tick), breathed, 2, n) * (1 + share(s)) * (1 + 0.002 * tick)
    );
  };
  return {
    rate: 10,
    pulls: 6,
    vehicle: { engine: { displacement: 2, cylinders: 4, ratedTorque: 400 } },
    ...more,
    more: {
      engineSpeed: steady,
      pedalPosition: (s, _p, t, tick) => (s >= 0 ? 100 : t < 4 ? 15 : 40 + tick),
      manifoldPressure: pressure,
      boostPressure: (s, p, t, tick) =>
        s < 0 ? 100 + 0.1 * tick : pressure(s, p, t, tick) + 2 - (s > 2 ? (leak.short ?? 0) : 0),
      boostPressureTarget: (s, p, t, tick) => (s < 0 ? 100 + 0.1 * tick : s < 1.2 ? 202 : pressure(s, p, t, tick) + 2),
      chargeAirTemperature: charge,
      ambientTemperature: () => 20,
      airMassFlow: (s, p, t, tick) => flow(s, p, t, tick) + (s < 0 && (t - 30) % 25 < 9 ? (leak.blown ?? 0) : 0),
      wastegateDuty: (s, _p, _t, tick) => (s < 0 ? 5 + tick : s < 1.2 ? 90 : (leak.duty ?? 60) + 0.1 * tick),
      lambdaTarget: (s) => (s < 0 ? 1 : 0.86),
      lambda: (s, _p, _t, tick) => (s < 0 ? 1 : 0.86) * (1 - (s > 0 ? (leak.rich?.(s) ?? 0) : 0)) + 0.001 * tick,
      fuelTrimShort: (s, _p, _t, tick) => (s < 0 ? tick - 1 : 0),
      fuelTrimLong: () => 1,
      fuelSystemStatus: (s) => (s < 0 ? 2 : 4),
      ...more.more,
    },
  };
}
const judged = (leak?: Leak, more?: Wish) => runRule(chargeLeak, pullDrive(wish(leak, more)));
const told = (leak?: Leak, more?: Wish) => {
  const result = judged(leak, more);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
const steadyShare = (share: number) => () => share;

describe('two signs that agree', () => {
  it.each([
    [0, 'clear'],
    [0.02, 'clear'],
    [0.04, 'clear'],
    [0.08, 'repair'],
    [0.15, 'repair'],
  ])('a leak of %f of the air, with an air meter', (share, outcome) => {
    const rich = share / (1 + share);
    expect(told({ share: steadyShare(share), rich: steadyShare(rich) })).toBe(outcome);
  });

  it('one sign alone is none, whichever', () => {
    expect(told({ share: steadyShare(0.1) })).toBe('clear');
    expect(told({ rich: steadyShare(0.1) })).toBe('clear');
    expect(told({ short: 25 })).toBe('clear');
    expect(told({ short: 25, duty: 99 })).toBe('clear');
  });

  it('air and boost agree as well; so do all', () => {
    expect(told({ share: steadyShare(0.1), short: 25 })).toBe('repair');
    expect(told({ share: steadyShare(0.1), duty: 99 })).toBe('repair');
    const all = judged({ share: steadyShare(0.1), rich: steadyShare(0.09), short: 25, duty: 99 });
    expect(all.summary).toMatch(/metered.*rich.*misses.*actuator/);
  });

  it('in two pulls, of one drive or two', () => {
    const leak = { share: steadyShare(0.1), rich: steadyShare(0.09) };
    const drive = (input: number) => pullDrive(wish(leak, { pulls: 1, input }));
    expect(runRule(chargeLeak, drive(0)).outcome).toBe('unproven');
  });

  it('takes the limits of the profile', () => {
    const vehicle = {
      engine: { displacement: 2, cylinders: 4, ratedTorque: 400 },
      limits: { 'air.charge-leak': { divergence: { value: 0.2, unit: '1' } } },
    };
    expect(told({ share: steadyShare(0.1), rich: steadyShare(0.09) }, { vehicle })).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('a vented dump valve that blows off after each pull', () => expect(told({ blown: 40 })).toBe('clear'));
  it('a meter that reads high: its excess grows with the flow', () => {
    const grows = (s: number): number => Math.max(0, 0.035 * (s - 1));
    const result = judged({ share: grows, rich: (s) => grows(s) / (1 + grows(s)) });
    expect(result.outcome).toBe('clear');
    expect(result.outcome === 'clear' && result.notes?.join()).toMatch(/meter reads high/);
  });
  it('fresh air that passes the cylinders at low speed', () => {
    const low = (s: number): number => (s < 1 ? 0.2 : 0);
    expect(told({ share: low, rich: low })).toBe('clear');
  });
});

describe('without an air meter', () => {
  const without = ['airMassFlow'];
  it('the actuator in hand is clear; at its end it cannot be told from a tired turbocharger', () => {
    expect(told({}, { without })).toBe('clear');
    expect(judged({ short: 25, duty: 99 }, { without })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['turboSpeed'] },
    });
  });
  it('two turbochargers that turn apart, and the actuator at its end', () => {
    const speeds = (apart: number): Record<string, Read> => ({
      'turboSpeed.turbo1': (s) => (s < 0 ? 20_000 : 150_000 * (1 + apart) + 10 * s),
      'turboSpeed.turbo2': (s) => (s < 0 ? 20_000 : 150_000 + 10 * s),
    });
    expect(told({ short: 25, duty: 99 }, { without, more: speeds(0.08) })).toBe('repair');
    expect(told({ short: 25, duty: 99 }, { without, more: speeds(0.02) })).toBe('unproven');
    expect(told({}, { without, more: speeds(0.08) })).toBe('clear');
  });
  it('nothing that tells', () => {
    expect(told({}, { without: [...without, 'wastegateDuty'] })).toBe('unproven');
    expect(told({}, { without: ['pedalPosition'] })).toBe('unproven');
  });
});
