import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { openDrive } from '../../../src/engine/drive.js';
import { load } from '../../../src/engine/load.js';
import { cooling } from '../../../src/rules/engine/cooling.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  readonly rate?: number;
  readonly seconds?: number;
  readonly speed?: (t: number) => number;
  readonly rpm?: (t: number) => number;
  readonly vehicle?: Vehicle;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly quantum?: number;
}

/** Warm at 90 degC, 50 km/h, unless told otherwise. */
function judged(coolant: Signal, wish: Wish = {}) {
  const { rate = 2, seconds = 900, speed = () => 50, rpm = () => 2000, vehicle, more = {}, without = [] } = wish;
  const signals: Record<string, Signal> = {
    coolantTemperature: coolant,
    vehicleSpeed: { values: speed, quality: { rate } },
    engineSpeed: { values: rpm, quality: { rate } },
    ...more,
  };
  for (const id of without) delete signals[id];
  return runRule(cooling, driveOf(clock(seconds, rate), signals, vehicle));
}

/** 90 degC with a plateau from 400 s; ramps of 0.25 K/s; steps of `quantum`. */
const plateau =
  (level: number, seconds: number, quantum = 0.1, ramp = 0.25) =>
  (t: number): number => {
    const climb = (level - 90) / ramp;
    const up = Math.max(0, Math.min(1, (t - 400 + climb) / climb));
    const down = Math.max(0, Math.min(1, (t - 400 - seconds) / climb));
    return Math.round((90 + (level - 90) * (up - down)) / quantum) * quantum;
  };

const told = (result: ReturnType<typeof judged>) => (result.outcome === 'finding' ? result.severity : result.outcome);

describe('limits, exactly on each and one step either side', () => {
  // With steps of 0.1 K and 0.5 K of scatter the guard band is 0.48 K.
  it.each([
    [112, 'clear', 'watch'],
    [117, 'watch', 'repair'],
    [122, 'repair', 'stop'],
  ])('%s degC', (limit, at, beyond) => {
    expect(told(judged(plateau(limit - 0.1, 60)))).toBe(at);
    expect(told(judged(plateau(limit, 60)))).toBe(at);
    expect(told(judged(plateau(limit + 0.6, 60)))).toBe(beyond);
  });

  it('wants half a minute at the lowest limit, two seconds at the others', () => {
    expect(told(judged(plateau(113, 24, 0.1, 3)))).toBe('clear');
    expect(told(judged(plateau(113, 32, 0.1, 3)))).toBe('watch');
    expect(told(judged(plateau(118, 3, 0.1, 0.4)))).toBe('repair');
  });

  it('takes a rise beyond 0.5 K/s above 110 degC for a stop', () => {
    const rising = (rate: number) => (t: number) =>
      t < 400 ? 105 : t < 420 ? Math.min(117, 105 + rate * (t - 400)) : 100;
    expect(told(judged(rising(0.45)))).toBe('clear');
    expect(told(judged(rising(0.62)))).toBe('stop');
    // Below 110 degC it is an ordinary warm-up.
    expect(told(judged((t) => Math.min(109, 60 + 1.2 * t)))).toBe('clear');
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const limits = { 'engine.cooling': { watch: { value: 212, unit: 'degF' } } };
    const result = judged(plateau(101, 60), { vehicle: car({ limits }) });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    const shown = result.outcome === 'finding' ? result.limits.find(({ name }) => name === 'watch') : undefined;
    expect(shown).toMatchObject({ source: 'profile', unit: 'degC' });
    expect(shown?.value).toBeCloseTo(100, 9);
  });
});

describe('where it overheats', () => {
  it('tells fan from flow', () => {
    const hot = plateau(119, 60);
    const standing = judged(hot, { speed: (t) => (t > 250 && t < 600 ? 0 : 50) });
    expect(standing.summary).toContain('the fan is the first suspect');
    expect(standing.outcome === 'finding' && standing.causes![0]).toContain('fan');
    const moving = judged(hot, { speed: () => 110 });
    expect(moving.summary).toContain('flow is the first suspect');
    expect(judged(hot, { without: ['vehicleSpeed'] }).summary).not.toContain('suspect');
  });
});

describe('the thermostat', () => {
  /** Five minutes of town, then eight of road. */
  const town = (t: number) => (t < 420 ? 50 : 100);
  const levels = (inTown: number, onRoad: number) => (t: number) =>
    Math.round(10 * (t < 420 ? inTown : onRoad + (inTown - onRoad) * Math.exp(-(t - 420) / 30))) / 10;

  it('watches a fall of more than 8 K on the road', () => {
    expect(told(judged(levels(90, 82), { speed: town }))).toBe('clear');
    expect(told(judged(levels(90, 81), { speed: town }))).toBe('watch');
    expect(judged(levels(90, 78), { speed: town }).summary).toContain('does not close');
  });

  it('takes the map of a thermostat for what it is', () => {
    const result = judged(levels(106, 90), { speed: town });
    expect(result).toMatchObject({ outcome: 'clear' });
    expect(result.outcome === 'clear' && result.notes?.join(' ')).toContain('mapped');
  });

  it('does not take standing in traffic for the own level', () => {
    const speed = (t: number) => (t < 120 ? 50 : t < 300 ? 0 : t < 420 ? 50 : 100);
    const coolant = (t: number) => (t < 120 ? 88 : t < 320 ? 99 : 88 + 11 * Math.exp(-(t - 320) / 30));
    expect(told(judged(coolant, { speed }))).toBe('clear');
  });

  const warming = (end: number, tau: number) => (t: number) => end - (end - 10) * Math.exp(-t / tau);

  it('watches an engine that never gets warm', () => {
    expect(told(judged(warming(69, 150), { seconds: 1500, speed: () => 60 }))).toBe('watch');
    expect(told(judged(warming(73, 150), { seconds: 1500, speed: () => 60 }))).toBe('clear');
  });

  it('is not told that the engine is warm by what it reaches standing: the road counts by itself', () => {
    const speed = (t: number) => (t < 700 ? 60 : t < 1100 ? 100 : 0);
    const coolant = (onRoad: number) => (t: number) =>
      t < 1100 ? warming(onRoad, 100)(t) : Math.min(90, onRoad + 0.25 * (t - 1100));
    const result = judged(coolant(60), { seconds: 1300, speed });
    expect(told(result)).toBe('watch');
    expect(result.summary).toContain('at 80 to 120 km/h');
    expect(told(judged(coolant(73), { seconds: 1300, speed }))).not.toBe('watch');
  });

  describe('in gentle driving, never on the road', () => {
    // Town: 20 s of standing lift it, a minute and a half of moving lets it fall again.
    const speed = (t: number) => (t % 110 < 20 ? 0 : 45);
    const pedal = (of: (t: number) => number): Record<string, Signal> => ({
      pedalPosition: { values: of, quality: { rate: 2 } },
    });
    const more = pedal((t) => (t % 110 < 20 ? 0 : 20 + (t % 3)));
    const town = (low: number, high: number) => (t: number) => {
      const wave = t % 110 < 20 ? (t % 110) / 20 : Math.exp(-((t % 110) - 20) / 12);
      return Math.round(10 * (warming(low, 100)(t) + (t > 500 ? (high - low) * wave : 0))) / 10;
    };
    it('watches a level that stays below the limit for a minute of driving', () => {
      const result = judged(town(64, 74), { seconds: 1500, speed, more });
      expect(told(result)).toBe('watch');
      expect(result.summary).toContain('for a minute of driving (limit 71');
      expect(told(judged(town(70.9, 80), { seconds: 1500, speed, more }))).not.toBe('watch');
      expect(told(judged(town(73, 80), { seconds: 1500, speed, more }))).toBe('clear');
    });
    it('not before the warm-up has ended, nor while it still rises', () => {
      expect(told(judged(town(64, 74), { seconds: 590, speed, more }))).toBe('unproven');
      const late = (t: number) => Math.min(88, 20 + 0.06 * t);
      expect(
        told(judged(late, { seconds: 1500, speed: () => 50, more: pedal((t) => (t < 20 ? 0 : 20 + (t % 3))) })),
      ).toBe('clear');
    });
    it('is not fooled by frost, a long descent, or an engine that was off for a while', () => {
      const ambientTemperature = { values: () => -3, quality: { rate: 1 } };
      expect(told(judged(town(64, 74), { seconds: 1500, speed, more: { ...more, ambientTemperature } }))).not.toBe(
        'watch',
      );
      const descent = (t: number) => (t < 800 ? 88 : t < 1200 ? 88 - 22 * Math.min(1, (t - 800) / 250) : 88);
      const held = (down: number) => pedal((t) => (t < 30 ? 0 : t >= 800 && t < 1200 ? down : 20 + (t % 3)));
      expect(told(judged(descent, { seconds: 1500, more: held(0), speed: (t) => (t < 20 ? 0 : 50) }))).toBe('clear');
      expect(told(judged(descent, { seconds: 1500, speed: () => 50 }))).toBe('clear');
      expect(told(judged(descent, { seconds: 1500, more: held(20), speed: (t) => (t < 20 ? 0 : 50) }))).toBe('watch');
      const rpm = (t: number) => (t > 900 && t < 1300 ? 0 : 2000);
      const again = (t: number) => (t < 900 ? 88 : t < 1500 ? 60 : Math.min(88, 60 + 0.2 * (t - 1500)));
      expect(told(judged(again, { seconds: 2000, rpm, more, speed: (t) => (rpm(t) === 0 ? 0 : 50) }))).toBe('clear');
    });
  });

  it('leaves the winter alone: short, still rising, or very cold', () => {
    expect(told(judged(warming(60, 150), { seconds: 500, speed: () => 60 }))).toBe('unproven');
    expect(told(judged(warming(90, 900), { seconds: 800, speed: () => 60 }))).toBe('unproven');
    const ambientTemperature = { values: () => -18, quality: { rate: 1 } };
    expect(told(judged(warming(65, 150), { seconds: 1500, speed: () => 60, more: { ambientTemperature } }))).toBe(
      'unproven',
    );
  });
});

describe('what must not fool it', () => {
  it('mapped thermostats at 105 to 110 degC', () => {
    expect(told(judged((t) => Math.round(107.5 + 2.5 * Math.sin(t / 40))))).toBe('clear');
  });

  it('range ends and spikes', () => {
    const base = (t: number) => 90 + Math.round(Math.sin(t / 30));
    expect(told(judged((t) => (t > 300 && t < 340 ? 215 : base(t))))).toBe('clear');
    expect(told(judged((t) => (t > 300 && t < 340 ? -40 : base(t))))).toBe('clear');
    expect(told(judged((t) => (t === 300 || t === 500 ? 130 : base(t))))).toBe('clear');
  });

  it('heat soak of a stopped engine', () => {
    const rpm = (t: number) => (t > 400 && t < 520 ? 0 : 2000);
    const soak = (t: number) =>
      t < 400 ? 95 : t < 520 ? Math.min(120, 95 + (t - 400) / 2) : Math.max(95, 120 - (t - 520));
    expect(told(judged(soak, { rpm }))).toBe('clear');
    expect(told(judged(soak))).toBe('repair');
  });
});

describe('what is missing', () => {
  it('names the channel, the warm time and the driving', () => {
    expect(judged(() => 90, { without: ['coolantTemperature'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['coolantTemperature'] },
    });
    expect(judged((t) => 88 + (t % 3), { seconds: 280 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('300 s')] },
    });
    expect(judged((t) => 88 + (t % 3), { speed: () => 0 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('20 km/h')] },
    });
  });

  it('does not believe a sensor that reads the same for a quarter of an hour', () => {
    expect(judged(() => 90, { seconds: 1000 })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['coolantTemperature'] },
    });
  });
});

// Open recordings of a healthy small car (see data/carobd/SOURCE.md), read relative to the repository.
const FOLDER = new URL('../../../../../../shared/data/carobd/', import.meta.url);

describe.skipIf(!existsSync(FOLDER))('open recordings (skipped: ../shared/data/carobd absent)', () => {
  it.each(['drive5.csv', 'live20.csv', 'live6.csv', 'idle1.csv'])('%s holds no finding', async (name) => {
    const loaded = await load({ name, source: readFileSync(new URL(name, FOLDER)) }, { vehicle: UNKNOWN_VEHICLE });
    if (loaded.recording === undefined) throw new Error('unreadable');
    const result = runRule(cooling, openDrive(loaded.recording, UNKNOWN_VEHICLE, 0));
    expect(result.outcome).not.toBe('finding');
  });
});

describe('time constants of a cold start', () => {
  const start = (oil: boolean) => {
    const c = (t: number) => Math.min(88, 10 + 0.11 * t);
    return driveOf(clock(1000, 1), {
      engineSpeed: (t) => 1500 + (t % 3),
      vehicleSpeed: (t) => 60 + (t % 2),
      coolantTemperature: { values: (t) => Math.round(c(t)), quality: { rate: 1 } },
      // Lags by 120 s: exact for a ramp that ends.
      ...(oil
        ? {
            engineOilTemperature: {
              values: (t: number) => {
                const end = 78 / 0.11;
                const ramp = (s: number) => 10 + 0.11 * (s - 120 * (1 - Math.exp(-s / 120)));
                return Math.round(t <= end ? ramp(t) : 88 - (88 - ramp(end)) * Math.exp(-(t - end) / 120));
              },
              quality: { rate: 1 },
            },
          }
        : {}),
    });
  };
  it('stand among the measures, to be followed from drive to drive', () => {
    const result = runRule(cooling, start(true));
    const measures = 'measures' in result ? result.measures : undefined;
    expect(measures?.['timeConstant.oil']?.unit).toBe('s');
    expect(Math.abs((measures?.['timeConstant.oil']?.value as number) / 120 - 1)).toBeLessThan(0.35);
    const none = runRule(cooling, start(false));
    expect('measures' in none ? Object.keys(none.measures ?? {}) : []).not.toContain('timeConstant.oil');
  });
});
