import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { assess } from '../../../src/index.js';
import { severity } from '../../../src/rules/usage/severity.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const CAR = car({ engine: { revLimit: 7000 } });

interface Laps {
  /** Seconds of each minute at full pedal. */
  readonly full?: number;
  readonly pedal?: number;
  readonly rpm?: number;
  /** Brakings a minute, and their deceleration (m/s2) for one second. */
  readonly brakings?: number;
  readonly deceleration?: number;
  readonly minutes?: number;
}

/** Minutes that are all alike at 100 km/h (1.667 km each), with dips of the speed where the car brakes. */
function drive(
  { full = 12, pedal = 100, rpm = 6000, brakings = 2, deceleration = 8, minutes = 12 }: Laps = {},
  { vehicle = CAR, rate = 10, more = {} as Record<string, Signal | undefined>, input = 0 } = {},
) {
  const floored = (t: number): boolean => t % 60 < full - 1e-9;
  const gap = 40 / Math.max(1, brakings);
  const speed = (t: number): number => {
    const s = ((t % 60) - 18) % gap;
    if (brakings === 0 || t % 60 < 18 || (t % 60) - 18 >= gap * brakings - 1e-9 || s < 0) return 100;
    // Down for a second, back at 3 m/s2.
    const down = 3.6 * deceleration * Math.min(1, s);
    return Math.min(100, 100 - down + (s > 1 ? 10.8 * (s - 1) : 0));
  };
  const signals: Record<string, Signal | undefined> = {
    vehicleSpeed: { values: (t: number) => Math.round(100 * speed(t)) / 100, quality: { rate, quantum: 0.01 } },
    pedalPosition: { values: (t: number) => (floored(t) ? pedal : t < 1e3 && t % 60 > 58 ? 0 : 30), quality: { rate } },
    engineSpeed: {
      values: (t: number) => (floored(t) ? rpm : 3000 + Math.round(200 * Math.sin(t))),
      quality: { rate },
    },
    ...more,
  };
  const given = Object.fromEntries(Object.entries(signals).filter(([, signal]) => signal !== undefined));
  return driveOf(clock(60 * minutes - 1 / rate, rate), given as Record<string, Signal>, vehicle, input);
}
const judged = (...args: Parameters<typeof drive>): Result => runRule(severity, drive(...args));
const told = (result: Result): string => (result.outcome === 'finding' ? (result.severity ?? 'none') : result.outcome);

describe('limits, exactly on each and one step either side', () => {
  // 15 % of a minute are 9 s; twelve stretches of which each end is known to 0.1 s: 1.645 x 0.14 s of 720 s = 0.03 %.
  it('15 % of the moving time', () => {
    expect(told(judged({ full: 8.9 }))).toBe('clear');
    expect(told(judged({ full: 9 }))).toBe('clear');
    expect(told(judged({ full: 9.1 }))).toBe('watch');
    expect(judged({ full: 9 })).toMatchObject({ measures: { share: { value: expect.closeTo(15, 2) } } });
  });

  it('relative pedal of 90 %, 60 % of the rev limit', () => {
    const seen = { pedalPosition: (t: number) => (t < 2 ? 100 : t % 60 < 12 ? 89 : t % 60 > 58 ? 0 : 30) };
    expect(told(judged({}, { more: seen }))).toBe('clear');
    const just = { pedalPosition: (t: number) => (t < 2 ? 100 : t % 60 < 12 ? 90 : t % 60 > 58 ? 0 : 30) };
    expect(told(judged({}, { more: just }))).toBe('watch');
    expect(told(judged({ rpm: 4199 }))).toBe('clear');
    expect(told(judged({ rpm: 4200 }))).toBe('watch');
  });

  it('one hard braking per km', () => {
    // A minute is 1.63 km with two brakings: 1.2 per km; with one 0.6.
    expect(told(judged({ brakings: 2 }))).toBe('watch');
    expect(told(judged({ brakings: 1 }))).toBe('clear');
    expect(judged({ brakings: 2 })).toMatchObject({ measures: { brakings: { value: 24 } } });
  });

  it('harder than 6 m/s2', () => {
    expect(told(judged({ deceleration: 5.9 }))).toBe('clear');
    expect(told(judged({ deceleration: 6 }))).toBe('clear');
    expect(told(judged({ deceleration: 6.2 }))).toBe('watch');
  });

  it('ten minutes', () => {
    expect(judged({ minutes: 9.9 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['driving for >= 10 min'] },
    });
    expect(told(judged({ minutes: 10 }))).toBe('watch');
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const vehicle = car({ ...CAR, limits: { 'usage.severity': { watch: { value: 25, unit: '%' } } } });
    const result = judged({}, { vehicle });
    expect(told(result)).toBe('clear');
    expect(result.outcome === 'clear' && result.limits?.find(({ name }) => name === 'watch')).toMatchObject({
      value: 25,
      source: 'profile',
    });
  });

  it('says both signs with their limits', () => {
    expect(judged().summary).toMatch(
      /^Full load at high revs for 20 % of 12 min \(watch from 15 %\) and 1\.\d hard brakings per km \(watch from 1\), the hardest [78](\.\d)? m\/s² at 0:\d\d: driven as on a circuit\.$/,
    );
  });
});

describe('what must not fool it', () => {
  it('a motorway climb or a trailer: full load without brakings', () => {
    expect(told(judged({ full: 50, brakings: 0 }))).toBe('clear');
  });
  it('town traffic: brakings without full load', () => {
    expect(told(judged({ full: 1, brakings: 4 }))).toBe('clear');
  });
  it('kerbs in an acceleration sensor', () => {
    const speed = (t: number) => 100 + 10 * Math.sin(t / 7);
    const more = {
      vehicleSpeed: speed,
      longitudinalAcceleration: (t: number) => (t % 20 < 0.15 ? -12 : (10 / 7 / 3.6) * Math.cos(t / 7)),
    };
    expect(told(judged({}, { more, rate: 20 }))).toBe('clear');
  });
  it('a gap of the recording is no movement', () => {
    const whole = drive({ minutes: 12 });
    const keep = whole.time.map((t, i) => (t > 200 && t < 400 ? -1 : i)).filter((i) => i >= 0);
    const cut: Record<string, Signal> = {};
    for (const [id, { values, quality }] of whole.recording.channels)
      cut[id] = { values: Float64Array.from(keep, (i) => values[i]!), quality };
    const result = runRule(
      severity,
      driveOf(
        Float64Array.from(keep, (i) => whole.time[i]!),
        cut,
        CAR,
      ),
    );
    expect(result).toMatchObject({ outcome: 'unproven', missing: { conditions: ['driving for >= 10 min'] } });
  });
});

describe('what is missing', () => {
  it('names pedal, rev limit and rate, only where they decide', () => {
    expect(judged({}, { more: { pedalPosition: undefined } })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['pedalPosition'] },
    });
    expect(told(judged({ brakings: 0 }, { more: { pedalPosition: undefined } }))).toBe('clear');
    expect(judged({}, { vehicle: car() })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engine.revLimit in the vehicle profile'] },
    });
    expect(told(judged({ full: 3 }, { vehicle: car() }))).toBe('clear');
    expect(judged({}, { rate: 1 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['vehicleSpeed at >= 2 Hz'] },
    });
    expect(told(judged({ full: 3 }, { rate: 1 }))).toBe('clear');
    // A slow log bounds the brakings from above: three samples that fall by less than 3 m/s2 hold no second of 6.
    expect(told(judged({ deceleration: 2.8 }, { rate: 1, more: { pedalPosition: undefined } }))).toBe('clear');
    expect(told(judged({ deceleration: 7 }, { rate: 1, more: { pedalPosition: undefined } }))).toBe('unproven');
    expect(runRule(severity, driveOf(clock(700, 5), { engineSpeed: (t) => 3000 + t }, CAR))).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['vehicleSpeed'] },
    });
  });
});

describe('several drives', () => {
  it('a circuit among commutes is found; short ones count together', () => {
    const commute = (input: number) => drive({ full: 0.5, brakings: 0, minutes: 40 }, { input });
    expect(told(runRule(severity, [commute(0), drive({}, { input: 1 }), commute(2)]))).toBe('watch');
    expect(told(runRule(severity, [drive({ minutes: 6 }), drive({ minutes: 6 }, { input: 1 })]))).toBe('watch');
    expect(told(runRule(severity, [drive({ minutes: 6 }), drive({ minutes: 3 }, { input: 1 })]))).toBe('unproven');
  });
});

describe('real recordings and published schedules', () => {
  const shared = fileURLToPath(new URL('../../../../../../shared/data/', import.meta.url));
  // Source: SOURCE.md beside each file. Ordinary trips and regulatory schedules.
  it
    .skipIf(!existsSync(shared))
    .each(['jrc-rde-sample/Sample_Data_Exchange_File.csv', 'carobd/live20.csv', 'nrel-fastsim-cycles/wltc_3b.csv'])(
    '%s: nothing found',
    async (name) => {
      const source = readFileSync(shared + name);
      const { results } = await assess([{ name: 'drive.csv', source }], { vehicle: CAR, only: ['usage.severity'] });
      expect(results[0]!.outcome).not.toBe('finding');
    },
  );
});
