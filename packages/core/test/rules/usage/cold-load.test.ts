import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { assess } from '../../../src/index.js';
import { coldLoad } from '../../../src/rules/usage/cold-load.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const CAR = car({ engine: { revLimit: 7000, ratedTorque: 400 } });

/** Torque pulses of `seconds` at 100 s in a drive whose oil warms from 20 degC by 0.15 K/s; 10 Hz. */
function drive(
  { seconds = 0, torque = 390, rpm = 3000, oil = (t: number) => 20 + 0.15 * t } = {},
  { vehicle = CAR, rate = 10, more = {} as Record<string, Signal | undefined>, input = 0 } = {},
) {
  const inside = (t: number): boolean => t >= 100 && t < 100 + seconds - 1e-9;
  const signals: Record<string, Signal | undefined> = {
    engineOilTemperature: (t: number) => Math.round(10 * oil(t)) / 10,
    engineSpeed: { values: (t: number) => (inside(t) ? rpm : 1800 + Math.round(100 * Math.sin(t))), quality: { rate } },
    engineTorque: {
      values: (t: number) => (inside(t) ? torque : 80 + Math.round(20 * Math.sin(2 * t))),
      quality: { rate },
    },
    ...more,
  };
  const given = Object.fromEntries(Object.entries(signals).filter(([, signal]) => signal !== undefined));
  return driveOf(clock(600, rate), given as Record<string, Signal>, vehicle, input);
}
const judged = (...args: Parameters<typeof drive>): Result => runRule(coldLoad, drive(...args));
const told = (result: Result): string => (result.outcome === 'finding' ? (result.severity ?? 'none') : result.outcome);

describe('limits, exactly on each and one step either side', () => {
  // One stretch at 10 Hz: its two ends are rectangular over 0.1 s each, 1.645 x 0.041 s = 0.07 s.
  it('ten seconds', () => {
    expect(told(judged({ seconds: 9.9 }))).toBe('clear');
    expect(told(judged({ seconds: 10 }))).toBe('clear');
    expect(told(judged({ seconds: 10.1 }))).toBe('watch');
  });

  it('load fraction of 0.7 at its lower bound: 5 % of a torque channel', () => {
    expect(told(judged({ seconds: 20, torque: 279 }))).toBe('clear');
    expect(told(judged({ seconds: 20, torque: 280 }))).toBe('clear');
    expect(told(judged({ seconds: 20, torque: 304 }))).toBe('clear');
    expect(told(judged({ seconds: 20, torque: 306 }))).toBe('watch');
  });

  it('or 60 % of the rev limit', () => {
    expect(told(judged({ seconds: 20, torque: 100, rpm: 4199 }))).toBe('clear');
    expect(told(judged({ seconds: 20, torque: 100, rpm: 4200 }))).toBe('watch');
  });

  it('oil below 60 degC', () => {
    // Steps of 0.1 K, 0.5 K of scatter: 60 degC and what is within the guard of half a kelvin below are not surely cold.
    const at = (level: number) => (t: number) =>
      t < 90 ? 20 + (t * (level - 20)) / 90 : level + (t > 300 ? 0.1 * (t - 300) : 0);
    expect(told(judged({ seconds: 20, oil: at(59) }))).toBe('watch');
    expect(told(judged({ seconds: 20, oil: at(59.8) }))).toBe('clear');
    expect(told(judged({ seconds: 20, oil: at(60) }))).toBe('clear');
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const vehicle = car({ ...CAR, limits: { 'usage.cold-load': { watch: { value: 25, unit: 's' } } } });
    const result = judged({ seconds: 24 }, { vehicle });
    expect(told(result)).toBe('clear');
    expect(result.outcome === 'clear' && result.limits?.find(({ name }) => name === 'watch')).toMatchObject({
      value: 25,
      source: 'profile',
    });
    expect(told(judged({ seconds: 26 }, { vehicle }))).toBe('watch');
  });

  it('says how long, how cold, when', () => {
    expect(judged({ seconds: 20 }).summary).toBe(
      'Worked hard for 20 s with the oil below 60 °C (watch beyond 10 s), longest at 1:40 with oil at 35 °C, up to 3000 rpm.',
    );
  });
});

describe('what must not fool it', () => {
  it('full load with warm oil, a short stab, fast idle', () => {
    expect(told(judged({ seconds: 60, oil: (t) => Math.min(95, 20 + 0.5 * t) }))).toBe('clear');
    expect(told(judged({ seconds: 5 }))).toBe('clear');
    expect(told(judged({ seconds: 60, torque: 30, rpm: 1500 }))).toBe('clear');
  });

  it('calculated load that is high at low revs', () => {
    const more = {
      engineTorque: undefined,
      engineLoad: (t: number) => (t >= 100 && t < 200 ? 90 : 30 + 5 * Math.sin(t)),
      pedalPosition: (t: number) => (t < 5 ? 0 : t > 300 && t < 302 ? 100 : 20),
      vehicleSpeed: (t: number) => (t < 8 ? 0 : 40 + Math.sin(t)),
    };
    expect(told(judged({ seconds: 100, rpm: 1200 }, { more }))).toBe('clear');
    const hard = { ...more, pedalPosition: (t: number) => (t < 5 ? 0 : t >= 100 && t < 200 ? 100 : 20) };
    expect(told(judged({ seconds: 100, rpm: 3000 }, { more: hard }))).toBe('watch');
  });

  it('an oil sensor at the end of its range or dead', () => {
    const pull = { seconds: 60 };
    const warm = { coolantTemperature: (t: number) => 88 + Math.round(Math.sin(t / 9)) };
    expect(told(judged(pull, { more: { ...warm, engineOilTemperature: () => -40 } }))).not.toBe('watch');
    expect(told(judged(pull, { more: { ...warm, engineOilTemperature: () => 20 } }))).not.toBe('watch');
  });

  it('a gap of the recording in the middle of a pull', () => {
    const time = clock(600, 10).filter((t) => !(t > 104 && t < 116));
    const signals = {
      engineOilTemperature: time.map((t) => Math.round(20 + 0.15 * t)),
      engineSpeed: time.map((t) => 2000 + 50 * Math.sin(t)),
      engineTorque: time.map((t) => (t >= 100 && t < 120 ? 390 : 80 + 20 * Math.sin(2 * t))),
    };
    const result = runRule(coldLoad, driveOf(time, signals, CAR));
    expect(told(result)).toBe('clear');
    expect(result).toMatchObject({ measures: { hardCold: { value: expect.closeTo(8.1, 1) } } });
  });
});

describe('coolant as proxy', () => {
  const coolant = (start: number, rise: number): Record<string, Signal | undefined> => ({
    engineOilTemperature: undefined,
    coolantTemperature: (t: number) => Math.round(Math.min(90, start + rise * t)),
  });
  it('finds what even the quickest oil would be too cold for, and says so with less confidence', () => {
    const result = judged({ seconds: 20 }, { more: coolant(15, 0.2) });
    expect(told(result)).toBe('watch');
    expect('notes' in result && result.notes?.join(' ')).toContain('coolant stands in');
    const measured = judged({ seconds: 20 });
    expect(
      result.outcome === 'finding' && measured.outcome === 'finding' && result.confidence! < measured.confidence!,
    ).toBe(true);
  });
  it('leaves open what lies between the quickest and the slowest, and names the channel', () => {
    // Coolant passes 60 degC at 75 s; the pull begins 25 s later.
    expect(judged({ seconds: 20 }, { more: coolant(15, 0.6) })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
  });
  it('is clear where nothing hard was done', () => {
    expect(told(judged({}, { more: coolant(15, 0.2) }))).toBe('clear');
  });
});

describe('what is missing', () => {
  it('names both temperatures, cold driving, load, rate', () => {
    expect(judged({}, { more: { engineOilTemperature: undefined } })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
    expect(judged({ oil: (t) => 90 + Math.sin(t) })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engine oil < 60 °C for >= 60 s, from a cold start'] },
    });
    const blind = judged({}, { more: { engineTorque: undefined } });
    expect(blind.outcome).toBe('unproven');
    expect(blind.outcome === 'unproven' && blind.missing.channels.length).toBeGreaterThan(0);
    const slow = judged({ seconds: 60 }, { rate: 0.2 });
    expect(slow).toMatchObject({ outcome: 'unproven', missing: { conditions: ['engineSpeed at >= 0.3 Hz'] } });
  });

  it('names the rev limit where high revs were possible', () => {
    const vehicle = car({ engine: { ratedTorque: 400 } });
    expect(judged({ seconds: 20, torque: 100, rpm: 4000 }, { vehicle })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engine.revLimit in the vehicle profile'] },
    });
    expect(told(judged({ seconds: 20, torque: 100, rpm: 3000 }, { vehicle }))).toBe('clear');
    expect(told(judged({ seconds: 20 }, { vehicle }))).toBe('watch');
  });
});

it('weighs each drive by itself, the worst leads', () => {
  const eight = (input: number) => drive({ seconds: 8 }, { input });
  expect(told(runRule(coldLoad, [eight(0), eight(1)]))).toBe('clear');
  const result = runRule(coldLoad, [eight(0), drive({ seconds: 20 }, { input: 1 })]);
  expect(told(result)).toBe('watch');
  expect(result).toMatchObject({ measures: { hardCold: { value: expect.closeTo(20, 3) } } });
});

describe('real recordings', () => {
  const shared = fileURLToPath(new URL('../../../../../../shared/data/', import.meta.url));
  // Source: SOURCE.md beside each file. Ordinary trips.
  it.skipIf(!existsSync(shared)).each(['jrc-rde-sample/Sample_Data_Exchange_File.csv', 'carobd/live20.csv'])(
    '%s: nothing found',
    async (name) => {
      const source = readFileSync(shared + name);
      const { results } = await assess([{ name: 'drive.csv', source }], { only: ['usage.cold-load'] });
      expect(results[0]!.outcome).not.toBe('finding');
    },
  );
});
