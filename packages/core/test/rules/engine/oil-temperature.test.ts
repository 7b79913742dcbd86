import { describe, expect, it } from 'vitest';
import { oilTemperature } from '../../../src/rules/engine/oil-temperature.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

/** Ten minutes at 95 degC with a plateau from 300 s; ramps of 20 s. */
const plateau =
  (level: number, seconds: number) =>
  (t: number): number => {
    const up = Math.max(0, Math.min(1, (t - 280) / 20));
    const down = Math.max(0, Math.min(1, (t - 300 - seconds) / 20));
    return Math.round(10 * (95 + (level - 95) * (up - down))) / 10;
  };

const judged = (signal: Signal, rate = 5, vehicle?: Vehicle, seconds = 600) =>
  runRule(oilTemperature, driveOf(clock(seconds, rate), { engineOilTemperature: signal }, vehicle));
const told = (signal: Signal, rate = 5, vehicle?: Vehicle, seconds = 600) => {
  const result = judged(signal, rate, vehicle, seconds);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // With steps of 0.1 K and 0.5 K of scatter the guard band is 0.48 K: exactly on the limit is near, not beyond.
  it.each([
    [130, 'clear', 'watch'],
    [140, 'watch', 'repair'],
    [150, 'repair', 'stop'],
  ])('%s degC', (limit, at, beyond) => {
    expect(told(plateau(limit - 0.1, 30))).toBe(at);
    expect(told(plateau(limit, 30))).toBe(at);
    expect(told(plateau(limit + 0.6, 30))).toBe(beyond);
  });

  it('takes two seconds', () => {
    const pulse = (seconds: number) => (t: number) => (t >= 300 && t < 300 + seconds - 1e-9 ? 133 : 122);
    expect(told(pulse(1.8))).toBe('clear');
    expect(told(pulse(2.2))).toBe('watch');
  });

  it('says peak, moment, time and limit, and counts events', () => {
    const result = judged((t) => Math.max(plateau(135, 30)(t), plateau(133, 30)(t - 150)));
    expect(result).toMatchObject({ measures: { peak: { value: 135 }, events: { value: 2 } } });
    expect(result.summary).toMatch(
      /^Engine oil reached 135 °C at 5:\d\d, and stood \d+ s at or above the limit of 130 °C \(2 events\)\.$/,
    );
  });

  it("lets a profile change a limit and shows it as the user's", () => {
    const limits = { 'engine.oil-temperature': { watch: { value: 248, unit: 'degF' } } };
    const result = judged(plateau(121, 30), 5, car({ limits }));
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    const shown = result.outcome === 'finding' ? result.limits.find(({ name }) => name === 'watch') : undefined;
    expect(shown).toMatchObject({ source: 'profile', unit: 'degC' });
    expect(shown?.value).toBeCloseTo(120, 9);
  });
});

describe('what must not fool it', () => {
  it('range ends, spikes, loose connectors', () => {
    const base = (t: number) => 100 + Math.round(Math.sin(t / 20));
    expect(told((t) => (t > 300 && t < 330 ? 215 : base(t)))).toBe('clear');
    expect(told((t) => (t > 300 && t < 330 ? -40 : base(t)))).toBe('clear');
    expect(told((t) => (t === 300 || t === 400 ? 170 : base(t)))).toBe('clear');
    expect(told((t) => (t > 300 && t < 301.5 ? 170 : base(t)))).toBe('clear');
  });

  it('a sensor that never moves', () => {
    expect(judged(() => 95, 5, undefined, 1000)).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
  });
});

describe('what is missing', () => {
  it('names channel, warm time and rate', () => {
    expect(runRule(oilTemperature, driveOf(clock(600, 5), { coolantTemperature: () => 90 }))).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineOilTemperature'] },
    });
    expect(judged((t) => 60 + (t % 5))).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engine oil >= 80 °C for >= 300 s'] },
    });
    const slow = (t: number) => (t === 300 || t === 304 ? 133 : 122);
    expect(judged({ values: slow, quality: { rate: 0.25, quantum: 1 } }, 0.25)).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engineOilTemperature at >= 1.5 Hz'] },
    });
  });
});
