import { describe, expect, it } from 'vitest';
import { exhaustFlow, exhaustVolumeFlow } from '../../../src/physics/exhaust.js';
import { particulateFilter } from '../../../src/rules/exhaust/particulate-filter.js';
import { readProfile } from '../../../src/vehicle/profile.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';
import { judgeTexts, values as storedValues } from '../read-outs.js';

/** m3/h and kPa of the profile. */
const FLOW = 1000;
const DROP = 5;
const PROFILE: Vehicle['exhaust'] = { particulateFilter: { fitted: true, pressureDrop: DROP, flow: FLOW } };
const RATIO = 14.2;
/** Gas (degC) and pressure behind (kPa). */
const HEAT = 600;
const BEHIND = 100;

interface Wish {
  /** Pressure drop over that of the profile at the profile's flow. */
  readonly share?: number;
  /** Share of the drop that grows with the square. */
  readonly square?: number;
  readonly offset?: number;
  /** s at rest before the start. */
  readonly rest?: number;
  readonly top?: number;
  readonly heat?: number;
  readonly rate?: number;
  readonly drop?: (t: number) => number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly exhaust?: Vehicle['exhaust'];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

function drive(wish: Wish = {}) {
  const { share = 1, square = 0.3, offset = 0.4, rest = 15, top = 1000, heat = HEAT, rate = 10 } = wish;
  // Plateaus of 12 s, from idle flow up to the highest and down again.
  const volume = (t: number) => (t < rest ? 0 : 80 + (top - 80) * ([0, 0.2, 0.4, 0.7, 1][Math.floor(t / 12) % 5] ?? 0));
  const pressure = (t: number) => {
    const x = volume(t) / FLOW;
    return share * DROP * ((1 - square) * x + square * x * x);
  };
  const air = (t: number) => {
    // g/s that give the volume, at the pressure before the filter.
    const one = exhaustVolumeFlow(exhaustFlow(1, RATIO), heat, BEHIND + pressure(t));
    return volume(t) / one;
  };
  const fine = (t: number) => 0.001 * (Math.round(t * rate) % 2);
  const signals: Record<string, Signal> = {
    particulateFilterPressureDrop: {
      values: (t) => (wish.drop ?? ((s: number) => pressure(s) + offset))(t) + (wish.drop ? 0 : fine(t)),
      quality: { rate },
    },
    particulateFilterTemperature: { values: (t) => heat + 0.1 * (Math.round(t) % 2), quality: { rate: 1 } },
    airMassFlow: { values: (t) => air(t) + (t < rest ? 0 : fine(t)), quality: { rate } },
    engineSpeed: { values: (t) => (t < rest ? 0 : 2500 + (Math.round(t * rate) % 3)), quality: { rate } },
    barometricPressure: { values: () => BEHIND, quality: { rate: 1 } },
    ...wish.more,
  };
  for (const id of wish.without ?? []) delete signals[id];
  const { exhaust = PROFILE, limits } = wish;
  return driveOf(clock(300, rate), signals, car({ exhaust, ...(limits === undefined ? {} : { limits }) }));
}
const judged = (wish?: Wish) => runRule(particulateFilter, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // Volume flow is known to 8 %: 2 x has to be seen beyond 2 / (1 - 1.645 x 0.08) = 2.30, 3 x beyond 3.45, 0.2 x below 0.177.
  it.each([
    [0, 'watch'],
    [0.16, 'watch'],
    [0.2, 'clear'],
    [0.25, 'clear'],
    [1, 'clear'],
    [2, 'clear'],
    [2.4, 'watch'],
    [3, 'watch'],
    [3.6, 'repair'],
    [6, 'repair'],
  ])('%f of the profile: %s', (share, outcome) => expect(told({ share })).toBe(outcome));

  it('measures the drop at the flow of the profile', () => {
    const { measures } = judged({ share: 1.5 }) as { measures: Record<string, { value: number }> };
    expect(Math.abs(measures.share!.value - 150)).toBeLessThan(3);
    expect(Math.abs(measures.offset!.value - 0.4)).toBeLessThan(0.01);
    expect(Math.abs(measures.flow!.value / FLOW - 1)).toBeLessThan(0.01);
  });

  it("takes the user's limits, and says the law", () => {
    const limits = { 'exhaust.particulate-filter': { 'blocked-watch': { value: 120, unit: '%' } } };
    const result = judged({ share: 1.6, limits });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(JSON.stringify(result)).toContain('"source":"profile"');
    expect(particulateFilter.cautions.join(' ')).toContain('offence');
  });

  it('an emptied filter and a blocked one are told apart', () => {
    const of = (wish: Wish) => {
      const result = judged(wish);
      if (result.outcome !== 'finding') throw new Error(result.summary);
      return result.causes?.[0];
    };
    expect(of({ share: 0.02 })).toContain('emptied');
    expect(of({ share: 4 })).toContain('soot');
    const more = { particulateSoot: () => 2, particulateAsh: () => 55 };
    expect(of({ share: 4, more })).toContain('ash');
  });
});

describe('what must not fool it', () => {
  it('an offset of the sensor at key on', () => {
    for (const offset of [-4, 8]) {
      expect(told({ offset })).toBe('clear');
      expect(told({ offset, share: 0.05 })).toBe('watch');
      expect(told({ offset, share: 4 })).toBe('repair');
    }
    expect(JSON.stringify(judged({ offset: 8 }))).toContain('offset of 8 kPa');
  });

  it('without rest the drives tell the offset themselves, where they reach from little flow to much', () => {
    expect(told({ rest: 0, offset: 3 })).toBe('clear');
    expect(told({ rest: 0, offset: 3, share: 0.02 })).toBe('watch');
    expect(told({ rest: 0, offset: -3, share: 4 })).toBe('repair');
    expect(JSON.stringify(judged({ rest: 0 }))).toContain('No time at rest');
  });

  it('none by design', () => {
    expect(judged({ share: 0, exhaust: { particulateFilter: { fitted: false } } }).outcome).toBe('not-applicable');
  });

  it('cold gas, low flow and a sensor that never moves', () => {
    expect(told({ heat: 240, share: 0 })).toBe('unproven');
    expect(told({ top: 450, share: 0 })).toBe('unproven');
    expect(told({ top: 600, share: 0 })).toBe('watch');
    const dead = judged({ drop: () => 0.4 });
    expect(dead).toMatchObject({ outcome: 'unproven', missing: { channels: ['particulateFilterPressureDrop'] } });
    expect(dead.summary).toContain('same all the time');
  });

  it('fuel cuts do not count', () => {
    const fuelCut = { values: (t: number) => (t > 20 ? 1 : 0), quality: { rate: 10 } };
    expect(told({ share: 4, more: { fuelCut } })).toBe('unproven');
  });
});

describe('what is missing', () => {
  it('names it', () => {
    expect(judged({ without: ['airMassFlow'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['airMassFlow'] },
    });
    expect(judged({ without: ['particulateFilterTemperature'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['particulateFilterTemperature'] },
    });
    expect(judged({ without: ['particulateFilterPressureDrop'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['particulateFilterPressureDrop'] },
    });
    const slow = judged({ rate: 0.5, share: 0 });
    expect(slow.outcome).toBe('unproven');
    expect(JSON.stringify(slow)).toContain('particulateFilterPressureDrop at >= 1 Hz');
  });

  it('without a profile it measures, and asks for what a clean one takes', () => {
    const result = judged({ share: 0, exhaust: {} });
    expect(result.outcome).toBe('unproven');
    expect(JSON.stringify(result)).toContain('vehicle profile');
    expect(judged({ exhaust: {} }).summary).toContain('5 kPa');
  });

  it('the catalyst stands in for the gas, and is said', () => {
    const more = { 'catalystTemperature.bank1Sensor1': () => HEAT };
    const result = judged({ without: ['particulateFilterTemperature'], more });
    expect(result.outcome).toBe('clear');
    expect(JSON.stringify(result)).toContain('Temperature of the gas taken from the catalyst');
  });

  it('two filters share the flow, the worse one counts', () => {
    const half = drive({ top: 1000 }).channel('particulateFilterPressureDrop')!.values;
    const more = {
      'particulateFilterPressureDrop.bank1': { values: half, quality: { rate: 10 } },
      'particulateFilterPressureDrop.bank2': { values: half.map((x) => 0.4 + 0.01 * (x - 0.4)), quality: { rate: 10 } },
    };
    const result = judged({ more, without: ['particulateFilterPressureDrop'] });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.summary).toContain('bank 2');
    expect(result.summary).not.toContain('bank 1');
  });

  it('drives add up', () => {
    const low = { share: 4, top: 450 };
    expect(runRule(particulateFilter, [drive(low), drive({ share: 4 })])).toMatchObject({ severity: 'repair' });
  });

  it('stored soot and ash alone judge nothing', async () => {
    const result = await judgeTexts('exhaust.particulate-filter', [
      storedValues({ 'Soot mass': '12 g', 'Ash mass': '40 g' }),
    ]);
    expect(result).toMatchObject({
      outcome: 'unproven',
      measures: { soot: { value: 12, unit: 'g' }, ash: { value: 40, unit: 'g' } },
    });
  });
});

describe('the profile', () => {
  const read = (filter: string) =>
    readProfile(`schema: telltale/vehicle@1\nexhaust: { particulateFilter: ${filter} }\n`, 'p');
  it('takes the drop at a flow, or that none is fitted', () => {
    const found = read('{ pressureDrop: 50 mbar, flow: 900 m3/h }');
    expect(found.ok && found.value.exhaust.particulateFilter).toEqual({ pressureDrop: 5, flow: 900 });
    const none = read('{ fitted: false }');
    expect(none.ok && none.value.exhaust.particulateFilter).toEqual({ fitted: false });
  });
  it('refuses a drop without its flow', () => {
    const found = read('{ pressureDrop: 5 kPa }');
    expect(found.ok).toBe(false);
    expect(!found.ok && found.faults[0]!.message).toContain('together');
  });
});
