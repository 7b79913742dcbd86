import { describe, expect, it } from 'vitest';
import { CLOSED_LOOP } from '../../src/derived/closed-loop.js';
import { FUEL_CUT } from '../../src/derived/fuel-cut.js';
import { GEAR, SHIFTS } from '../../src/derived/gear-shifts.js';
import { isRefusal, type Recipe } from '../../src/derived/recipe.js';
import { OIL_WARM, WARM } from '../../src/derived/warm.js';
import { type DriveSpec, driveOf, gaussian, ramp, sampled } from './helpers.js';

function derive<T>(recipe: Recipe<T>, spec: DriveSpec): T {
  const found = driveOf(spec).derive(recipe);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}
const missing = <T>(recipe: Recipe<T>, spec: DriveSpec): readonly string[] => {
  const found = driveOf(spec).derive(recipe);
  return isRefusal(found) ? found.missing.channels : ['not refused'];
};

describe('WARM', () => {
  const coolantTemperature = [20, 60, 69, 70, 80, 69, 67, 75, Number.NaN, 90];

  it('begins at 70 degC, forgives two kelvin of thermostat swing, and keeps its state over a missing sample', () => {
    const found = derive(WARM, { hz: 1, channels: { coolantTemperature } });
    expect([...found.mask]).toEqual([0, 0, 0, 1, 1, 1, 0, 1, 1, 1]);
    expect(found).toMatchObject({ since: 3, source: 'coolantTemperature' });
  });

  it('takes oil for want of coolant; a cold drive was never warm', () => {
    expect(derive(WARM, { hz: 1, channels: { engineOilTemperature: [60, 71] } }).source).toBe('engineOilTemperature');
    expect(derive(WARM, { hz: 1, channels: { coolantTemperature: [20, 30] } }).since).toBeNaN();
    expect(derive(OIL_WARM, { hz: 1, channels: { engineOilTemperature: [79, 80] } }).since).toBe(1);
  });

  it('names what is missing', () => {
    expect(missing(WARM, { hz: 1, channels: { engineSpeed: [1, 2] } })).toEqual(['coolantTemperature']);
    expect(missing(OIL_WARM, { hz: 1, channels: { coolantTemperature: [1, 2] } })).toEqual(['engineOilTemperature']);
  });
});

const HZ = 10;
const ROWS = 1201;
const pulses = (t: number): boolean => t % 40 > 30;
const base = {
  vehicleSpeed: sampled(ROWS, HZ, (t) => 60 - (pulses(t) ? 2 * ((t % 40) - 30) : 0), 0.1),
  engineSpeed: sampled(ROWS, HZ, (t) => 2200 - (pulses(t) ? 70 * ((t % 40) - 30) : 0) + 5 * Math.sin(7 * t), 0.25),
  pedalPosition: sampled(ROWS, HZ, (t) => (pulses(t) ? 16 : t > 100 && t < 108 ? 86 : 30 + 2 * Math.sin(t)), 0.392),
  coolantTemperature: sampled(ROWS, HZ, (t) => Math.min(90, 60 + t), 1),
};

describe('FUEL_CUT', () => {
  it('is assumed in overrun when nothing shows it', () => {
    const found = derive(FUEL_CUT, { hz: HZ, channels: base });
    expect(found).toMatchObject({ certain: false, source: 'overrun' });
    expect(found.segments.length).toBe(3);
    expect(found.mask[350]).toBe(1);
    expect(found.mask[200]).toBe(0);
  });

  it.each([
    ['fuelCut', (t: number) => (pulses(t) ? 1 : 0)],
    ['injectionTime', (t: number) => (pulses(t) ? 0 : 3 + Math.sin(t))],
    ['lambda', (t: number) => (pulses(t) && t % 40 > 31 ? 2 : 1 + 0.01 * Math.sin(5 * t))],
  ])('is seen in %s', (id, f) => {
    const found = derive(FUEL_CUT, { hz: HZ, channels: { ...base, [id]: sampled(ROWS, HZ, f) } });
    expect(found).toMatchObject({ certain: true, source: id });
    let wrong = 0;
    for (let i = 0; i < ROWS; i++) if ((found.mask[i] === 1) !== pulses(i / HZ)) wrong++;
    expect(wrong).toBeLessThan(8);
  });

  it('is not excluded by a sensor that ends at 1.1', () => {
    const found = derive(FUEL_CUT, {
      hz: HZ,
      channels: { ...base, lambda: sampled(ROWS, HZ, (t) => (pulses(t) ? 1.1 : 1 + 0.01 * Math.sin(5 * t))) },
    });
    expect(found).toMatchObject({ certain: false, source: 'overrun' });
  });
});

describe('FUEL_CUT by calculated load', () => {
  it('takes no gentle driving at a low calculated load for a fuel cut: a closed throttle passes less than an idle', () => {
    const vehicleSpeed = sampled(ROWS, HZ, (t) => (t < 22 ? 0 : 60), 1);
    const engineSpeed = sampled(ROWS, HZ, (t) => (t < 22 ? 800 : 2000), 1);
    const gentle = sampled(ROWS, HZ, (t) => (t < 22 ? 25 : t > 80 && t < 90 ? 10 : 30) + (t % 2 < 1 ? 0.4 : 0), 0.392);
    const at = (channels: Record<string, Float64Array>, t: number) =>
      derive(FUEL_CUT, { hz: HZ, channels }).mask[t * HZ];
    const seen = { vehicleSpeed, engineSpeed, engineLoad: gentle };
    expect([10, 60, 85].map((t) => at(seen, t))).toEqual([0, 0, 1]);
    // No idle recorded: nothing to compare with.
    const rolling = sampled(ROWS, HZ, () => 60, 1);
    expect(at({ ...seen, vehicleSpeed: rolling }, 85)).toBe(0);
  });
});

describe('CLOSED_LOOP', () => {
  const next = gaussian(6);
  const trim = sampled(ROWS, HZ, (t) => (t < 62 ? 0 : 2 * Math.sin(2 * t) + 0.5 * next()), 0.78, 5);

  it('reads the status byte: 2 and 16 are closed, 1, 4 and 8 open', () => {
    const status = Float64Array.from({ length: ROWS }, (_, i) => [1, 2, 4, 8, 16, 0][Math.floor(i / 200)] ?? 2);
    const found = derive(CLOSED_LOOP, { hz: HZ, channels: { ...base, 'fuelSystemStatus.bank1': status } });
    expect(found.certain).toBe(true);
    expect([100, 300, 500, 700, 900, 1100].map((i) => found.mask[i])).toEqual([0, 1, 0, 0, 1, 0]);
  });

  it('reads a mere flag as a flag, but 1 of a cold engine as open loop', () => {
    const flag = sampled(ROWS, HZ, (t) => (t > 30 ? 1 : 0));
    expect(derive(CLOSED_LOOP, { hz: HZ, channels: { ...base, fuelSystemStatus: flag } }).mask[800]).toBe(1);
    const cold = { ...base, coolantTemperature: sampled(ROWS, HZ, (t) => 20 + t / 10, 1) };
    expect(derive(CLOSED_LOOP, { hz: HZ, channels: { ...cold, fuelSystemStatus: flag } }).mask[800]).toBe(0);
  });

  it('takes a status that stays at 1 for open loop', () => {
    // "OL" throughout: the text of code 1 of SAE J1979 PID 03.
    const open = sampled(ROWS, HZ, () => 1);
    const found = derive(CLOSED_LOOP, { hz: HZ, channels: { ...base, fuelSystemStatus: open } });
    expect(found.certain).toBe(true);
    expect(found.mask.includes(1)).toBe(false);
  });

  it('is inferred: warm, no fuel cut, no full pedal, short trim moving', () => {
    const found = derive(CLOSED_LOOP, { hz: HZ, channels: { ...base, 'fuelTrimShort.bank1': trim } });
    expect(found.certain).toBe(false);
    // Cold, then trim still at 0, then closed loop; overrun; closed; full pedal.
    expect([50, 580, 660, 750, 950, 1050].map((i) => found.mask[i])).toEqual([0, 0, 1, 0, 1, 0]);
  });

  it('takes a trim at rest for closed loop while a warm engine idles or cruises, for open loop under load', () => {
    const still = sampled(ROWS, HZ, (t) => (t < 10 ? 2.34 : 0), 0.01);
    const channels = {
      engineSpeed: sampled(ROWS, HZ, (t) => (t < 40 ? 800 : 2400), 1),
      vehicleSpeed: sampled(ROWS, HZ, (t) => (t < 40 ? 0 : 80), 1),
      pedalPosition: sampled(ROWS, HZ, (t) => (t < 40 ? 0 : t < 80 ? 20 : 50), 1),
      engineTorquePercent: sampled(ROWS, HZ, (t) => (t < 40 ? 8 : t < 80 ? 20 : 60), 1),
      coolantTemperature: sampled(ROWS, HZ, () => 90, 1),
      'fuelTrimShort.bank1': still,
    };
    const found = derive(CLOSED_LOOP, { hz: HZ, channels });
    expect([5, 30, 60, 100].map((t) => found.mask[t * HZ])).toEqual([1, 1, 1, 0]);
  });

  it('is open where the target is rich', () => {
    const lambdaTarget = sampled(ROWS, HZ, (t) => (t > 82 && t < 87 ? 0.85 : 1), 0.001);
    const found = derive(CLOSED_LOOP, { hz: HZ, channels: { ...base, 'fuelTrimShort.bank1': trim, lambdaTarget } });
    expect([815, 840, 900].map((i) => found.mask[i])).toEqual([1, 0, 1]);
  });

  it('is shown of a cold engine by a short trim that moves towards a recorded target of 1, and by nothing less', () => {
    const coolantTemperature = sampled(ROWS, HZ, (t) => 20 + t / 10, 1);
    const target = (x: number) => sampled(ROWS, HZ, (t) => (t < 50 ? 0.9 : x), 0.001);
    const cold = { ...base, coolantTemperature, 'fuelTrimShort.bank1': trim };
    const at = (channels: Record<string, Float64Array>) => derive(CLOSED_LOOP, { hz: HZ, channels }).mask[660];
    expect(at({ ...cold, lambdaTarget: target(1) })).toBe(1);
    expect(at({ ...cold, lambdaTarget: target(0.9) })).toBe(0);
    expect(at(cold)).toBe(0);
    const parked = sampled(ROWS, HZ, (t) => (t < 1 ? 1 : 0), 0.01);
    expect(at({ ...cold, 'fuelTrimShort.bank1': parked, lambdaTarget: target(1) })).toBe(0);
  });

  it('is refused when nobody knows whether the engine is warm', () => {
    const { coolantTemperature: _, ...rest } = base;
    expect(missing(CLOSED_LOOP, { hz: HZ, channels: rest })).toEqual(['fuelSystemStatus', 'coolantTemperature']);
  });
});

describe('SHIFTS', () => {
  /** rpm per km/h of six gears, as in the gear-shift reference cases of UN Global Technical Regulation No. 15 (case 1). */
  const LADDER = [107.52, 56.64, 37.08, 26.87, 20.96, 17.95];
  const gearAt = (t: number): number => Math.min(6, 1 + Math.floor(t / 6));
  const v = ramp([0, 0], [40, 110], [60, 110]);
  const rpm = (t: number): number => {
    // A shift takes 0.3 s.
    const g = gearAt(t);
    const s = t - 6 * (g - 1);
    const now = LADDER[g - 1]!;
    const before = LADDER[Math.max(0, g - 2)]!;
    return Math.max(800, v(t) * (s < 0.3 && g > 1 ? before + ((now - before) * s) / 0.3 : now));
  };

  it('from the gear channel: each change, widened by half a second', () => {
    const found = derive(SHIFTS, {
      hz: 20,
      channels: {
        vehicleSpeed: sampled(1201, 20, v, 0.1),
        engineSpeed: sampled(1201, 20, rpm),
        gear: sampled(1201, 20, gearAt),
      },
    });
    expect(found.length).toBe(5);
    expect(found[0]!.from).toBeCloseTo(5.45, 1);
    expect(found[0]!.to).toBeCloseTo(6.5, 1);
  });

  it.each([
    [1, 1, 1],
    [5, 1, 1],
    [10, 0.1, 1],
    [20, 1, 5],
    [50, 0.1, 1],
    [100, 1, 10],
  ])(
    'from the ratio at %i Hz, quantum %f km/h, renewed every %i rows: every shift above 10 km/h, nothing else',
    (hz, quantum, every) => {
      const rows = 60 * hz + 1;
      const next = gaussian(8);
      const found = derive(SHIFTS, {
        hz,
        channels: {
          vehicleSpeed: sampled(rows, hz, v, quantum, every),
          engineSpeed: sampled(rows, hz, (t) => rpm(t) + 8 * next(), 0.25, every),
        },
      });
      for (const t of [6.15, 12.15, 18.15, 24.15, 30.15])
        expect(
          found.some((s) => s.from <= t && s.to >= t),
          `${t} s`,
        ).toBe(true);
      const covered = found.reduce((total, s) => total + s.to - s.from, 0);
      expect(covered).toBeLessThan(hz === 1 ? 16 : 11);
      expect(found.every((s) => s.from < 33)).toBe(true);
    },
  );

  it('sees none in steady gear with 1 km/h steps and a late speed', () => {
    const wave = (t: number): number => 50 + 25 * Math.sin(t / 4);
    const found = derive(SHIFTS, {
      hz: 10,
      channels: {
        vehicleSpeed: sampled(1201, 10, (t) => wave(t - 0.2), 1),
        engineSpeed: sampled(1201, 10, (t) => 37 * wave(t), 0.25),
      },
    });
    expect(found).toEqual([]);
  });

  it('names what is missing', () => {
    expect(missing(SHIFTS, { hz: 10, channels: { vehicleSpeed: [1, 2, 3] } })).toEqual(['engineSpeed']);
    expect(missing(SHIFTS, { hz: 10, channels: { engineSpeed: [1, 2, 3] } })).toEqual(['gear', 'vehicleSpeed']);
    expect(missing(GEAR, { hz: 10, channels: { engineSpeed: [1, 2, 3] } })).toEqual(['gear']);
  });
});
