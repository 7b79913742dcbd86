import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { assess } from '../../../src/index.js';
import { hotStop } from '../../../src/rules/usage/hot-stop.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

/** 2 L: 12 bar are 12e5 x 2e-3 / (4 pi) = 190.99 N.m (Heywood 1988 eq. 2.20). */
const CAR = car({ engine: { displacement: 2 } });
const PARKED = { P: 0, N: 2, D: 3 } as const;

interface End {
  /** Seconds at high load, ending `before` s before the engine stops at 200 s. */
  readonly load?: number;
  readonly before?: number;
  readonly boost?: number;
  readonly torque?: number;
  /** Seconds of the standing engine that are recorded; seconds after which it runs again. */
  readonly off?: number;
  readonly again?: number;
}
const STOP = 200;

function drive(
  { load = 20, before = 15, boost = 100, torque = 300, off = 20, again = Number.POSITIVE_INFINITY }: End = {},
  { vehicle = CAR, rate = 10, more = {} as Record<string, Signal | undefined>, input = 0 } = {},
) {
  const hot = (t: number): boolean => t >= STOP - before - load && t < STOP - before - 1e-9;
  const stands = (t: number): boolean => t >= STOP && t < STOP + again;
  const signals: Record<string, Signal | undefined> = {
    engineSpeed: {
      values: (t: number) => (stands(t) ? 0 : hot(t) ? 4000 : 1500 + Math.round(100 * Math.sin(t))),
      quality: { rate },
    },
    vehicleSpeed: (t: number) => (t >= STOP - 5 ? 0 : hot(t) ? 120 : 60 + Math.sin(t)),
    barometricPressure: () => 100,
    manifoldPressure: {
      values: (t: number) => (stands(t) ? 100 : hot(t) ? 100 + boost : 45 + Math.sin(t)),
      quality: { rate },
    },
    engineTorque: {
      values: (t: number) => (stands(t) ? 0 : hot(t) ? torque : 60 + 5 * Math.sin(t)),
      quality: { rate },
    },
    selector: (t: number) => (t < STOP - 2 ? PARKED.D : PARKED.P),
    ...more,
  };
  const given = Object.fromEntries(Object.entries(signals).filter(([, signal]) => signal !== undefined));
  const end = STOP + Math.min(off, again === Number.POSITIVE_INFINITY ? off : again + 60);
  return driveOf(clock(end - 1 / rate, rate), given as Record<string, Signal>, vehicle, input);
}
const judged = (...args: Parameters<typeof drive>): Result => runRule(hotStop, drive(...args));
const told = (result: Result): string => (result.outcome === 'finding' ? (result.severity ?? 'none') : result.outcome);
/** Without displacement there is no mean effective pressure. */
const BOOST_ONLY = { vehicle: car(), more: { engineTorque: undefined } };
const TORQUE_ONLY = { more: { manifoldPressure: undefined, barometricPressure: undefined } };

describe('limits, exactly on each and one step either side', () => {
  it('ten seconds', () => {
    expect(told(judged({ load: 9.9 }))).toBe('clear');
    expect(told(judged({ load: 10 }))).toBe('clear');
    expect(told(judged({ load: 10.1 }))).toBe('watch');
  });

  it('within the last minute', () => {
    expect(told(judged({ load: 20, before: 50.5 }))).toBe('clear');
    expect(told(judged({ load: 20, before: 49 }))).toBe('watch');
  });

  it('50 kPa of boost, at the lower bound: sensor 2 kPa, barometer 0.7 kPa', () => {
    expect(told(judged({ boost: 50 }, BOOST_ONLY))).toBe('clear');
    expect(told(judged({ boost: 52 }, BOOST_ONLY))).toBe('clear');
    expect(told(judged({ boost: 53 }, BOOST_ONLY))).toBe('watch');
  });

  it('12 bar of mean effective pressure, at the lower bound of a torque channel (5 %)', () => {
    expect(told(judged({ torque: 190.5 }, TORQUE_ONLY))).toBe('clear');
    expect(told(judged({ torque: 191.5 }, TORQUE_ONLY))).toBe('clear');
    expect(told(judged({ torque: 207 }, TORQUE_ONLY))).toBe('clear');
    expect(told(judged({ torque: 209 }, TORQUE_ONLY))).toBe('watch');
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const vehicle = car({ ...CAR, limits: { 'usage.hot-stop': { watch: { value: 30, unit: 's' } } } });
    const result = judged({ load: 20 }, { vehicle });
    expect(told(result)).toBe('clear');
    expect(result.outcome === 'clear' && result.limits?.find(({ name }) => name === 'watch')).toMatchObject({
      value: 30,
      source: 'profile',
    });
  });

  it('says when, how much and how long before', () => {
    const result = judged();
    // 18.8 bar by the torque channel, a little more reconciled with what the manifold pressure says.
    expect(result.summary).toMatch(
      /^Engine switched off at 3:20 with 20 s of high load in the minute before \(watch from 10 s\), up to 1[89](\.\d)? bar mean effective pressure and 100 kPa boost, 15 s after the last of it\.$/,
    );
    expect(result).toMatchObject({ measures: { hotStops: { value: 1 }, stops: { value: 1 } } });
  });
});

describe('what must not fool it', () => {
  it('the end of the recording', () => {
    expect(judged({ off: 0 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['recording goes on for >= 5 s after the engine is switched off'] },
    });
    expect(told(judged({ off: 2.9 }))).toBe('unproven');
    expect(told(judged({ off: 3.1 }))).toBe('watch');
  });

  it('automatic stop-start: restart, flag, selector, held brake', () => {
    expect(told(judged({ off: 60, again: 30 }))).toBe('unproven');
    expect(judged({ off: 60, again: 30 })).toMatchObject({ measures: { automaticStops: { value: 1 } } });
    expect(told(judged({}, { more: { startStopActive: (t) => (t >= STOP ? 1 : 0), selector: undefined } }))).toBe(
      'unproven',
    );
    expect(told(judged({}, { more: { selector: () => PARKED.D } }))).toBe('unproven');
    const braked = { selector: undefined, brakeSwitch: (t: number) => (t > STOP - 8 ? 1 : 0) };
    expect(judged({}, { more: braked })).toMatchObject({ outcome: 'unproven', missing: { channels: ['selector'] } });
  });

  it('what makes it a stop all the same: ignition, three minutes, a released brake', () => {
    expect(
      told(judged({ off: 60, again: 30 }, { more: { ignitionSwitch: (t) => (t >= STOP && t < STOP + 25 ? 0 : 1) } })),
    ).toBe('watch');
    expect(told(judged({ off: 300, again: 200 }, { more: { selector: () => PARKED.D } }))).toBe('watch');
    const released = { selector: undefined, brakeSwitch: (t: number) => (t > STOP - 8 && t < STOP + 4 ? 1 : 0) };
    const unsure = judged({}, { more: released });
    expect(told(unsure)).toBe('watch');
    const sure = judged();
    expect(unsure.outcome === 'finding' && sure.outcome === 'finding' && unsure.confidence! < sure.confidence!).toBe(
      true,
    );
  });

  it('an after-run pump cools it; a long log after the stop changes nothing', () => {
    const result = judged({ off: 60 }, { more: { coolantPumpDuty: (t) => (t >= STOP && t < STOP + 40 ? 60 : 0) } });
    expect(told(result)).toBe('clear');
    expect('notes' in result && result.notes?.join(' ')).toContain('pump ran on');
    expect(told(judged({ load: 3, off: 170 }))).toBe('clear');
  });

  it('an engine that is off while the car rolls', () => {
    expect(told(judged({ off: 30 }, { more: { vehicleSpeed: (t) => 80 + Math.sin(t), selector: undefined } }))).toBe(
      'unproven',
    );
  });

  it('a gap of the recording at high load counts for nothing', () => {
    const whole = drive({ load: 20 });
    const keep = whole.time.map((t, i) => (t > 168 && t < 183 ? -1 : i)).filter((i) => i >= 0);
    const cut: Record<string, Signal> = {};
    for (const [id, { values, quality }] of whole.recording.channels)
      cut[id] = { values: Float64Array.from(keep, (i) => values[i]!), quality };
    const result = runRule(
      hotStop,
      driveOf(
        Float64Array.from(keep, (i) => whole.time[i]!),
        cut,
        CAR,
      ),
    );
    // Five seconds are seen, and fifteen that nobody recorded may have been anything.
    expect(told(result)).toBe('unproven');
  });
});

describe('what is missing', () => {
  it('names pressure or torque, engine speed, rate', () => {
    const blind = { manifoldPressure: undefined, engineTorque: undefined, barometricPressure: undefined };
    const result = judged({}, { more: blind });
    expect(result).toMatchObject({ outcome: 'unproven', missing: { channels: ['manifoldPressure'] } });
    expect(result.outcome === 'unproven' && result.missing.conditions.join()).toContain('engine.displacement');
    expect(judged({}, { more: { engineSpeed: undefined } })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineSpeed'] },
    });
    expect(judged({ off: 60 }, { rate: 0.2 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['manifoldPressure at >= 0.3 Hz'] },
    });
  });

  it('without torque judges by boost alone, and says so', () => {
    const result = judged({}, BOOST_ONLY);
    expect(told(result)).toBe('watch');
    expect('notes' in result && result.notes?.join(' ')).toContain('boost alone');
  });
});

it('weighs several drives together', () => {
  const result = runRule(hotStop, [
    drive({ load: 2 }),
    drive({ load: 25 }, { input: 1 }),
    drive({ off: 0 }, { input: 2 }),
  ]);
  expect(told(result)).toBe('watch');
  expect(result).toMatchObject({ measures: { stops: { value: 2 }, hotStops: { value: 1 } }, events: [{ input: 1 }] });
});

describe('real recordings', () => {
  const shared = fileURLToPath(new URL('../../../../../../shared/data/', import.meta.url));
  // Source: SOURCE.md beside each file. Ordinary trips.
  it.skipIf(!existsSync(shared)).each(['jrc-rde-sample/Sample_Data_Exchange_File.csv', 'carobd/live20.csv'])(
    '%s: nothing found',
    async (name) => {
      const source = readFileSync(shared + name);
      const { results } = await assess([{ name: 'drive.csv', source }], { vehicle: CAR, only: ['usage.hot-stop'] });
      expect(results[0]!.outcome).not.toBe('finding');
    },
  );
});
