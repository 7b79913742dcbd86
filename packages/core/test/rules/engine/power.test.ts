import { describe, expect, it } from 'vitest';
import { power } from '../../../src/rules/engine/power.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

/** Work of a kilogram of air at lambda 1, E10, by the library's own constants, J: heat of the fuel x 0.365 over 14.1. */
const WORK = ((43e6 * 0.9 + 26.9e6 * 0.1) * 0.365) / 14.07;

interface Wish {
  /** kW at and above the knee of 5000 rpm. */
  readonly makes?: number;
  readonly claim?: number;
  readonly pulls?: number;
  readonly from?: number;
  readonly to?: number;
  readonly gear?: number;
  readonly without?: readonly string[];
  readonly more?: Record<string, Signal>;
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Light driving at 2000 rpm with pulls of 6 s every 30 s; air mass as a sound engine needs it. */
function drive(wish: Wish = {}) {
  const {
    makes = 200,
    claim = 200,
    pulls = 3,
    from = 2400,
    to = 6600,
    gear = 4,
    without = [],
    more = {},
    limits,
  } = wish;
  const since = (t: number) => {
    const s = t < 30 ? -1 : (t - 30) % 30;
    return s >= 0 && s < 6 && t < 30 + pulls * 30 ? s : -1;
  };
  const rpm = (t: number) => (since(t) < 0 ? 2000 + (Math.round(t * 2) % 3) : from + ((to - from) * since(t)) / 6);
  const torque = (t: number) => {
    const n = rpm(t);
    return since(t) < 0 ? 70 + (Math.round(t * 5) % 4) : (makes * 30_000) / Math.PI / Math.max(n, 5000);
  };
  const air = (t: number) => {
    const n = rpm(t);
    const k = n / 1000;
    const lost = ((0.97 + 0.15 * k + 0.05 * k * k) * 200) / (4 * Math.PI);
    return (((torque(t) + lost) * Math.PI * n) / 30 / WORK) * 1000;
  };
  const signals: Record<string, Signal> = {
    engineSpeed: rpm,
    airMassFlow: air,
    pedalPosition: { values: (t) => (since(t) < 0 ? 15 + (Math.round(t * 3) % 3) : 100), quality: { rate: 10 } },
    vehicleSpeed: (t) => rpm(t) / 40,
    gear: { values: () => gear, quality: { rate: 10 } },
    barometricPressure: () => 100,
    ambientTemperature: () => 18,
    ...more,
  };
  for (const id of without) delete signals[id];
  const engine = { displacement: 2, fuel: 'E10', ratedTorque: 400 } as const;
  const claims = claim > 0 ? { power: claim } : {};
  return driveOf(clock(30 + 30 * pulls + 10, 10), signals, car({ engine, claims, ...(limits ? { limits } : {}) }));
}
const judged = (wish?: Wish) => runRule(power, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('power against the claim', () => {
  it('tells what a sound engine makes, with an interval of 8 % at least', () => {
    const result = judged();
    expect(result.outcome).toBe('clear');
    const { measures } = result as unknown as { measures: Record<string, { value: number }> };
    expect(Math.abs(measures.power!.value - 200)).toBeLessThan(10);
    expect(measures.powerHigh!.value / measures.power!.value).toBeGreaterThanOrEqual(1.08);
    expect(measures.pulls!.value).toBe(3);
  });

  it('finds only what even the upper end of the interval does not reach', () => {
    const high = (judged() as unknown as { measures: Record<string, { value: number }> }).measures.powerHigh!.value;
    // Upper end exactly on 90 % of the claim, and one step either side.
    expect(told({ claim: high / 0.9 })).toBe('clear');
    expect(told({ claim: high / 0.905 })).toBe('clear');
    expect(told({ claim: high / 0.895 })).toBe('watch');
    expect(judged({ claim: 235 }).summary).toContain('near the limit');
  });

  it('says when it makes more than claimed', () => {
    expect(judged({ claim: 140 }).summary).toContain('more than claimed');
  });

  it('takes the limit of the profile', () => {
    const limits = { 'engine.power': { watch: { value: 0.7, unit: '1' } } };
    expect(told({ claim: 280 })).toBe('watch');
    expect(told({ claim: 280, limits })).toBe('clear');
  });
});

describe('an engine of constant power', () => {
  // The knee stands at 5000 rpm.
  it.each([5350, 5500, 6000])('has passed its peak when the pull ends at %i rpm', (to) => {
    expect(judged({ to, claim: 300 })).toMatchObject({ outcome: 'finding', measures: { pulls: { value: 3 } } });
  });

  it('has passed it in the last half second before the upshift that ends the pull', () => {
    const pulling = (t: number) => t >= 30 && t < 120 && (t - 30) % 30 < 6;
    const more = { gear: { values: (t: number) => (pulling(t) ? 3 : 5), quality: { rate: 10 } } };
    expect(judged({ to: 5650, claim: 300, more })).toMatchObject({
      outcome: 'finding',
      measures: { pulls: { value: 3 } },
    });
    expect(judged({ to: 5000, claim: 300, more })).toMatchObject({ measures: { pulls: { value: 0 } } });
  });

  it('has not while torque still holds', () => {
    expect(judged({ to: 5000, claim: 300 })).toMatchObject({ outcome: 'unproven', measures: { pulls: { value: 0 } } });
    expect(judged({ to: 5100, claim: 300 })).toMatchObject({ outcome: 'unproven', measures: { pulls: { value: 0 } } });
  });
});

describe('what must not fool it', () => {
  it('pulls that end before the peak, too few pulls, low gears', () => {
    expect(told({ to: 4400, claim: 400 })).toBe('unproven');
    expect(told({ pulls: 2, claim: 400 })).toBe('unproven');
    expect(told({ gear: 2, claim: 400 })).toBe('unproven');
    expect(told({ claim: 400 })).toBe('watch');
  });

  it('thin and hot air is doubt in favour of the car, never added to the value', () => {
    const hot = { barometricPressure: () => 82, ambientTemperature: () => 36 };
    const plain = judged({ claim: 262 });
    expect(plain.outcome).toBe('finding');
    const high = judged({ claim: 262, more: hot });
    expect(high.outcome).toBe('clear');
    expect(JSON.stringify(high)).toContain('allowed for as doubt');
  });

  it('the torque of the control unit alone proves nothing', () => {
    const engineTorque = (t: number) => {
      const s = (t - 30) % 30;
      return t >= 30 && t < 120 && s < 6 ? 1_909_859 / Math.max(5000, 2400 + 700 * s) : 70 + (Math.round(t * 5) % 4);
    };
    const more = { engineTorque };
    const alone = drive({ without: ['airMassFlow'], more });
    const result = runRule(power, alone);
    expect(result).toMatchObject({ outcome: 'unproven', missing: { channels: ['airMassFlow'] } });
  });
});

describe('what is missing', () => {
  it('the claim: measured, not judged', () => {
    const result = judged({ claim: 0 });
    expect(result).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['vehicle profile with claims.power'] },
    });
    expect(result.summary).toContain('kW at the crank');
  });

  it('torque of any kind', () => {
    expect(told({ without: ['airMassFlow'] })).toBe('unproven');
  });
});
