import { describe, expect, it } from 'vitest';
import { throttleClosure } from '../../../src/rules/air/throttle-closure.js';
import { runRule } from '../helpers.js';
import { pullDrive, type Read, type Wish } from './pulls.js';

/** Throttle that reads 86 % when open, `points` less from 3 s of a pull for `seconds`. */
const closing =
  (points: number, seconds = 1, pulls = 9): Read =>
  (s, p, _t, tick) =>
    s < 0 ? 12 + tick : s >= 3 && s <= 3 + seconds && p <= pulls ? 86 - points : 86;
const wish = (throttlePosition: Read, more: Wish = {}): Wish => ({
  quantum: { throttlePosition: 0.4 },
  ...more,
  more: { throttlePosition, ...more.more },
});
const judged = (read: Read, more?: Wish) => runRule(throttleClosure, pullDrive(wish(read, more)));
const told = (read: Read, more?: Wish) => {
  const result = judged(read, more);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limit, exactly on it and one step either side', () => {
  it.each([
    [0, 'clear'],
    [15, 'clear'],
    [15.5, 'clear'],
    [16, 'watch'],
    [60, 'watch'],
  ])('%f points', (points, outcome) => expect(told(closing(points))).toBe(outcome));

  it('lasting for 0.3 s, in two pulls', () => {
    expect(told(closing(40, 0.2))).toBe('clear');
    expect(told(closing(40, 0.3))).toBe('watch');
    expect(told(closing(40, 1, 1))).toBe('clear');
  });

  it('takes the limit of the profile', () => {
    const vehicle = { limits: { 'air.throttle-closure': { watch: { value: 45, unit: '%' } } } };
    expect(told(closing(40), { vehicle })).toBe('clear');
  });

  it('joins drives', () => {
    const drive = (input: number) => pullDrive(wish(closing(40), { pulls: 1, input }));
    expect(runRule(throttleClosure, drive(0)).outcome).toBe('unproven');
    expect(runRule(throttleClosure, [drive(0), drive(1)]).outcome).toBe('finding');
  });
});

describe('names the limiter', () => {
  const shut = (s: number): boolean => s >= 2.8 && s <= 4.1;
  it.each([
    ['engineTorqueTarget', (s: number) => (s < 0 ? 60 : shut(s) ? 250 : 400), /torque limit/],
    ['knockRetard', (s: number) => (shut(s) ? 6 : s < 0 ? 0 : 1), /knock/],
    ['chargeAirTemperature', (s: number) => (s < 0 ? 30 : 80), /temperature protection/],
    ['torqueLimiterActive', (s: number) => (shut(s) ? 1 : 0), /limiter is reported/],
  ] as const)('%s', (id, read, text) => {
    expect(judged(closing(40), { more: { [id]: read } }).summary).toMatch(text);
  });

  it('boost over its target, and nothing where nothing tells', () => {
    const more: Record<string, Read> = {
      boostPressureTarget: (s, _p, _t, tick) => (s < 0 ? 100 + tick / 10 : 200),
      boostPressure: (s, _p, _t, tick) => (s < 0 ? 100 + tick / 10 : s > 2 && s < 3.5 ? 225 : 200),
    };
    expect(judged(closing(40), { more }).summary).toMatch(/overboost/);
    expect(judged(closing(40)).summary).toMatch(/nothing recorded names the limiter/);
  });
});

describe('what must not fool it', () => {
  it('torque limits of the lower gears', () => expect(told(closing(40), { gear: 2 })).toBe('unproven'));
  it('a throttle that reads 75 % when open', () => {
    expect(told((s, _p, _t, tick) => (s < 0 ? 12 + tick : 75))).toBe('clear');
  });
  it('spinning wheels, or no way to see them at low speed', () => {
    const spin: Read = (s) => (s >= 2.5 && s <= 4.2 ? 170 : s < 0 ? 67 : 67 + 17 * s);
    expect(told(closing(40), { more: { 'wheelSpeed.frontLeft': spin, 'wheelSpeed.frontRight': spin } })).toBe('clear');
    const wheels = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'].map((each) => `wheelSpeed.${each}`);
    const slow: Wish = { without: wheels, more: { vehicleSpeed: (s) => (s < 0 ? 40 : 40 + 5 * s) } };
    expect(judged(closing(40), slow)).toMatchObject({ outcome: 'unproven', missing: { channels: ['wheelSpeed'] } });
  });
  it('the limiter of engine speed', () => {
    const late: Read = (s, _p, _t, tick) => (s < 0 ? 12 + tick : s > 7.6 ? 30 : 86);
    expect(told(late, { vehicle: { engine: { revLimit: 6000 } } })).toBe('clear');
  });
  it('cold oil', () => expect(told(closing(40), { more: { engineOilTemperature: () => 40 } })).toBe('unproven'));
});

describe('unproven', () => {
  it.each([['throttlePosition'], ['pedalPosition']])('without %s', (id) => {
    expect(judged(closing(0), { without: [id] })).toMatchObject({ outcome: 'unproven', missing: { channels: [id] } });
  });
  it('too slow, naming channel and rate; what lasts is found', () => {
    expect(judged(closing(0), { rate: 5 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['throttlePosition at >= 10 Hz'] },
    });
    expect(told(closing(40, 2), { rate: 5 })).toBe('watch');
  });
});
