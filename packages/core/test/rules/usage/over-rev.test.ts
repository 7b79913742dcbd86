import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { Result } from '../../../src/engine/assessment.js';
import { assess } from '../../../src/index.js';
import { overRev } from '../../../src/rules/usage/over-rev.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

const LIMIT = 7000;
const CAR = car({ engine: { revLimit: LIMIT } });

interface Shape {
  /** rpm of the plateau, from 60 s on; seconds it lasts; relative pedal in it and until when it was pressed before. */
  readonly rpm: number;
  readonly seconds?: number;
  readonly pedal?: number;
  /** Seconds before the plateau at which the foot leaves the pedal. */
  readonly lift?: number;
  readonly speed?: number;
}

/** Two minutes at 3000 rpm, 90 km/h and 40 % pedal with an over-rev at 60 s. */
function drive(
  shape: Shape,
  { rate = 20, vehicle = CAR, more = {} as Record<string, Signal | undefined>, input = 0 } = {},
) {
  const { rpm, seconds = 1, pedal = 0, lift = 1.5, speed = 90 } = shape;
  const inside = (t: number): boolean => t >= 60 && t < 60 + seconds - 1e-9;
  const signals: Record<string, Signal | undefined> = {
    engineSpeed: {
      values: (t: number) => (inside(t) ? rpm : 3000 + Math.round(200 * Math.sin(t))),
      quality: { rate, quantum: 1 },
    },
    vehicleSpeed: (t: number) => (t < 5 ? 0 : inside(t) ? speed : 90 + Math.sin(t)),
    pedalPosition: (t: number) =>
      t < 5 ? 0 : t > 20 && t < 22 ? 100 : t >= 60 - lift && t < 60 + seconds + 1 ? pedal : 40,
    ...more,
  };
  const given = Object.fromEntries(Object.entries(signals).filter(([, signal]) => signal !== undefined));
  return driveOf(clock(120, rate), given as Record<string, Signal>, vehicle, input);
}
const judged = (shape: Shape, options?: Parameters<typeof drive>[1]): Result => runRule(overRev, drive(shape, options));
const told = (result: Result): string => (result.outcome === 'finding' ? (result.severity ?? 'none') : result.outcome);

describe('an engine speed that was cut off', () => {
  const cut = (rpm: number) => {
    const engineSpeed: Signal = {
      values: (t: number) => (t >= 60 && t < 62 ? rpm : 3000 + Math.round(200 * Math.sin(t))),
      quality: { rate: 20, quantum: 1, saturated: [{ from: 60, to: 62 }] },
    };
    return judged({ rpm, seconds: 2, pedal: 40 }, { more: { engineSpeed } });
  };

  it('shows nothing of what the engine reached, unless it was cut beyond a limit', () => {
    expect(cut(5000)).toMatchObject({ outcome: 'unproven', summary: expect.stringContaining('(5000 rpm) 1 time') });
    expect(told(cut(1.06 * LIMIT))).toBe('watch');
  });
});

describe('limits, exactly on each and one step either side', () => {
  // The guard is 0.1 % of 7000 rpm as a half-width and a step of 1 rpm: 1.645 x 4.05 = 6.7 rpm.
  it.each([
    [3, 0, 'clear', 'repair'],
    [10, 0, 'repair', 'stop'],
    [4, 100, 'clear', 'watch'],
    [10, 100, 'watch', 'repair'],
  ])('%d % over with %d % pedal: %s, then %s', (percent, pedal, at, beyond) => {
    const limit = LIMIT * (1 + percent / 100);
    expect(told(judged({ rpm: limit - 1, pedal }))).toBe(at);
    expect(told(judged({ rpm: limit, pedal }))).toBe(at);
    expect(told(judged({ rpm: limit + 6, pedal }))).toBe(at);
    expect(told(judged({ rpm: limit + 8, pedal }))).toBe(beyond);
  });

  it('takes the pedal as released up to 5 % of its travel', () => {
    expect(told(judged({ rpm: 7500, pedal: 5 }))).toBe('repair');
    expect(told(judged({ rpm: 7500, pedal: 5.2 }))).toBe('watch');
  });

  it('takes two fresh samples and 0.15 s', () => {
    expect(told(judged({ rpm: 7900, seconds: 0.05 }))).toBe('clear');
    expect(told(judged({ rpm: 7900, seconds: 0.1 }))).toBe('clear');
    expect(told(judged({ rpm: 7900, seconds: 0.15 }))).toBe('stop');
    expect(told(judged({ rpm: 7900, seconds: 0.1 }, { rate: 10 }))).toBe('clear');
    expect(told(judged({ rpm: 7900, seconds: 0.2 }, { rate: 10 }))).toBe('stop');
  });

  it('says speed, excess, limit, moment and who did it', () => {
    const result = judged({ rpm: 7840 });
    expect(result.summary).toBe(
      'The engine turned 7840 rpm at 1:00, +12 % over its limit of 7000 rpm, with the pedal released: the wheels pushed it; stop beyond +10 %.',
    );
    expect(result).toMatchObject({
      measures: { mechanical: { value: 1 }, mechanicalOver: { value: expect.closeTo(12, 6) } },
      events: [{ from: 60, severity: 'stop', peak: { value: 7840, unit: 'rpm' } }],
    });
    expect(result.outcome === 'finding' && result.advice?.[0]).toContain('Do not start the engine again');
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const vehicle = car({
      engine: { revLimit: LIMIT },
      limits: { 'usage.over-rev': { repair: { value: 6, unit: '%' } } },
    });
    const result = judged({ rpm: 7500 }, { vehicle });
    expect(told(judged({ rpm: 7400 }, { vehicle }))).toBe('clear');
    expect(told(result)).toBe('repair');
    const shown = result.outcome === 'finding' ? result.limits.find(({ name }) => name === 'repair') : undefined;
    expect(shown).toMatchObject({ value: 6, source: 'profile' });
  });
});

describe('what must not fool it', () => {
  it('limiter contact: counted, no finding', () => {
    const bounce = (t: number): number =>
      t >= 60 && t < 63 ? 7000 + 250 * Math.abs(Math.sin(12 * t)) : 3000 + Math.round(200 * Math.sin(t));
    const result = judged({ rpm: 0, seconds: 3, pedal: 100 }, { more: { engineSpeed: bounce } });
    expect(told(result)).toBe('clear');
    expect(result).toMatchObject({ measures: { limiterContacts: { value: 1 }, mechanical: { value: 0 } } });
  });

  it('a late lift: the car in gear lets the engine down slowly', () => {
    // 3.9 % over by the pedal, lift at 61 s, 2 % a second down: above +3 % for half a second without a foot.
    const fall = (t: number): number =>
      t >= 60 && t < 61 ? 7273 : t >= 61 && t < 63 ? 7273 - 60 * (t - 61) : 3000 + Math.round(200 * Math.sin(t));
    const pedal = (t: number): number => (t < 5 ? 0 : t < 61 ? 100 : t < 65 ? 0 : 40);
    expect(told(judged({ rpm: 0 }, { more: { engineSpeed: fall, pedalPosition: pedal } }))).toBe('clear');
    // The same fall after a foot that had left the pedal long before is an over-rev.
    const early = (t: number): number => (t < 5 ? 0 : t < 58 ? 100 : t < 65 ? 0 : 40);
    expect(told(judged({ rpm: 0 }, { more: { engineSpeed: fall, pedalPosition: early } }))).toBe('repair');
  });

  it('spikes of one sample, and of two in a fast log', () => {
    expect(told(judged({ rpm: 11000, seconds: 0.05 }))).toBe('clear');
    const leap = (t: number): number => (t >= 60 && t < 60.09 ? 11500 : 3000 + Math.round(200 * Math.sin(t)));
    expect(told(judged({ rpm: 0 }, { more: { engineSpeed: leap } }))).toBe('clear');
  });

  it('standstill, cold soft limit, shift blip within the overshoot', () => {
    expect(told(judged({ rpm: 7900, speed: 0 }))).toBe('clear');
    expect(told(judged({ rpm: 4500, pedal: 100, seconds: 3 }))).toBe('clear');
    expect(told(judged({ rpm: 7190, seconds: 0.3 }))).toBe('clear');
  });
});

describe('what is missing', () => {
  it('names the rev limit of the profile', () => {
    const result = judged({ rpm: 9000 }, { vehicle: car() });
    expect(result).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engine.revLimit in the vehicle profile'] },
    });
    expect(result.summary).toContain('engine.revLimit');
  });

  it('names the rate, and finds in a slow log what two samples show', () => {
    expect(judged({ rpm: 6000 }, { rate: 1 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engineSpeed at >= 4 Hz'] },
    });
    expect(judged({ rpm: 7900 }, { rate: 1 })).toMatchObject({ outcome: 'unproven' });
    expect(told(judged({ rpm: 7900, seconds: 2, lift: 4 }, { rate: 1 }))).toBe('stop');
    expect(told(judged({ rpm: 6000 }, { rate: 4 }))).toBe('clear');
  });

  it('names engine speed, and driving', () => {
    expect(runRule(overRev, driveOf(clock(60, 10), { vehicleSpeed: (t) => t }, CAR))).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineSpeed'] },
    });
    const parked = driveOf(
      clock(60, 10),
      { engineSpeed: (t) => 800 + Math.sin(3 * t) * 20, vehicleSpeed: (t) => (t < 50 ? 0 : 4) },
      CAR,
    );
    expect(runRule(overRev, parked)).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['driving for >= 60 s'] },
    });
  });

  it('without a pedal judges by the overshoot and by what no limiter does, and says so', () => {
    const more = { pedalPosition: undefined };
    expect(told(judged({ rpm: 7270 }, { more }))).toBe('clear');
    const result = judged({ rpm: 7650 }, { more });
    expect(told(result)).toBe('watch');
    expect(result.summary).toContain('no pedal recorded');
    expect(result).toMatchObject({ measures: { limiterContacts: { value: 1 } } });
    const far = judged({ rpm: 8260 }, { more });
    expect(told(far)).toBe('repair');
    expect(far.summary).toContain('repair beyond +10 %');
    expect(far).toMatchObject({ measures: { limiterContacts: { value: 0 } } });
  });
});

it('weighs several drives together, the worst leads', () => {
  const drives = [drive({ rpm: 7400 }), drive({ rpm: 7800 }, { input: 1 }), drive({ rpm: 6000 }, { input: 2 })];
  const result = runRule(overRev, drives);
  expect(told(result)).toBe('stop');
  expect(result).toMatchObject({ measures: { mechanical: { value: 2 } } });
  expect(result.outcome === 'finding' && result.events.map(({ input }) => input)).toEqual([0, 1]);
});

it('never joins samples across a gap', () => {
  const time = clock(120, 20).filter((t) => !(t > 60 && t < 65));
  const signals = {
    engineSpeed: {
      values: time.map((t) => (t === 60 || t === 65 ? 7900 : 3000 + Math.round(200 * Math.sin(t)))),
      quality: { rate: 20 },
    },
    vehicleSpeed: time.map((t) => 90 + Math.sin(t)),
    pedalPosition: time.map((t) => (t < 5 ? 0 : t < 58 ? 100 : 0)),
  };
  expect(told(runRule(overRev, driveOf(time, signals, CAR)))).toBe('clear');
});

describe('real recordings', () => {
  const shared = fileURLToPath(new URL('../../../../../../shared/data/', import.meta.url));
  // Source: SOURCE.md beside each file. Ordinary trips; 6000 rpm as limit of the profile is below any petrol car's.
  it.skipIf(!existsSync(shared)).each(['jrc-rde-sample/Sample_Data_Exchange_File.csv', 'carobd/live20.csv'])(
    '%s: nothing found',
    async (name) => {
      const source = readFileSync(shared + name);
      const vehicle: Vehicle = car({ engine: { revLimit: 6000 } });
      const { results } = await assess([{ name: 'drive.csv', source }], { vehicle, only: ['usage.over-rev'] });
      expect(results[0]!.outcome).not.toBe('finding');
    },
  );
});
