import { describe, expect, it } from 'vitest';
import { turboHealth } from '../../../src/rules/air/turbo-health.js';
import { runRule } from '../helpers.js';
import { charge, pullDrive, type Read, type Wish } from './pulls.js';

/** Duty 5 % off boost, 90 % while boost is built, then as told; boost that stays `short` under its target. */
const duty =
  (end: number, from = 3): Read =>
  (s, _p, _t, tick) =>
    s < 0 ? 5 + tick : s < 1.2 ? 90 + tick : (s >= from ? end : 60) + 0.1 * tick;
const wish = (short: number, end: number, more: Wish = {}): Wish => ({
  quantum: { boostPressure: 0.1, boostPressureTarget: 0.1, wastegateDuty: 0.1 },
  ...more,
  more: {
    boostPressureTarget: (s, _p, _t, tick) => (s < 0 ? 100 + 0.1 * tick : 200),
    boostPressure: (s, p, t, tick) => charge(s, p, t, tick) - (s > 3 ? short : 0),
    wastegateDuty: duty(end),
    ...more.more,
  },
});
const judged = (short: number, end: number, more?: Wish) => runRule(turboHealth, pullDrive(wish(short, end, more)));
const told = (short: number, end: number, more?: Wish) => {
  const result = judged(short, end, more);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('actuator at its end', () => {
  it.each([
    [0, 98, 'clear'],
    [10, 98, 'clear'],
    [11, 98, 'clear'],
    [11.5, 98, 'repair'],
    [40, 98, 'repair'],
    [40, 95, 'repair'],
    [40, 94.5, 'clear'],
  ])('%f kPa missing at %f %% of duty', (short, end, outcome) => expect(told(short, end)).toBe(outcome));

  it('for a second, above 3000 rpm, in two pulls', () => {
    const brief: Read = (s, _p, _t, tick) => (s > 4 && s < 4.8 ? 98 : duty(60)(s, _p, _t, tick));
    expect(told(40, 60, { more: { wastegateDuty: brief } })).toBe('clear');
    expect(told(40, 98, { rpm: (s, _p, _t, tick) => (s < 0 ? 1500 + tick : 2000 + 100 * s) })).toBe('unproven');
    expect(told(40, 98, { pulls: 1 })).toBe('unproven');
    const drive = (input: number) => pullDrive(wish(40, 98, { pulls: 1, input }));
    expect(runRule(turboHealth, [drive(0), drive(1)]).outcome).toBe('finding');
  });

  it('takes the limit of the profile', () => {
    const vehicle = { limits: { 'air.turbo-health': { 'missing-repair': { value: 50, unit: 'kPa' } } } };
    expect(told(40, 98, { vehicle })).toBe('clear');
  });
});

describe('actuator against its command', () => {
  const position = (off: number, delay = 0): Wish => ({
    quantum: { wastegateTarget: 0.1, wastegatePosition: 0.1, boostPressure: 0.1, boostPressureTarget: 0.1 },
    more: {
      wastegateTarget: (_s, _p, t) => 30 + 20 * (Math.floor(t / 5) % 3),
      wastegatePosition: (_s, _p, t, tick) => 30 + 20 * (Math.floor((t - delay) / 5) % 3) + off + 0.1 * tick,
    },
  });
  // Noise and rounding: a guard band of 1 point.
  it.each([
    [0, 'clear'],
    [5, 'clear'],
    [6.2, 'watch'],
    [10, 'watch'],
    [11.2, 'repair'],
    [-11.2, 'repair'],
  ])('%f points off', (off, outcome) => expect(told(0, 60, position(off))).toBe(outcome));
  it('an actuator that moves late is not off', () => expect(told(0, 60, position(0, 0.7))).toBe('clear'));
});

it('two actuators that differ', () => {
  const banks = (apart: number): Wish => ({
    without: ['wastegateDuty'],
    more: { 'wastegateDuty.bank1': duty(60), 'wastegateDuty.bank2': duty(60 + apart, 1.2) },
  });
  expect(told(0, 60, banks(10))).toBe('clear');
  expect(told(0, 60, banks(25))).toBe('watch');
});

describe('what must not fool it', () => {
  it('a raised target: the map is named among the causes, beside the turbocharger', () => {
    const result = judged(40, 98);
    expect(result.outcome === 'finding' && (result.causes ?? []).join(' ')).toContain('target raised');
  });
  it('altitude', () => expect(told(40, 98, { more: { barometricPressure: () => 82 } })).toBe('unproven'));
  it('a turbocharger that still runs up', () => {
    const late: Read = (s, p, t, tick) => (s < 0 ? 100 + 0.1 * tick : s < 2.8 ? 120 + 0 * p * t : 200);
    expect(
      told(0, 60, {
        more: { boostPressure: late, wastegateDuty: duty(60, 2.8) },
        rpm: (s) => (s < 0 ? 2000 : 3500 + 300 * s),
      }),
    ).toBe('clear');
  });
  it('duty the other way round', () => {
    const inverse =
      (read: Read): Read =>
      (s, p, t, tick) =>
        100 - read(s, p, t, tick);
    expect(told(40, 0, { more: { wastegateDuty: inverse(duty(98)) } })).toBe('repair');
    expect(told(40, 0, { more: { wastegateDuty: inverse(duty(60)) } })).toBe('clear');
    // Held closed off boost as well: what it does once boost is settled tells.
    const closed: Read = (s, p, t, tick) => (s < 0 ? 95 + tick : duty(60)(s, p, t, tick));
    expect(told(0, 60, { more: { wastegateDuty: closed } })).toBe('clear');
  });
});

describe('unproven', () => {
  it.each([['wastegateDuty'], ['boostPressureTarget'], ['pedalPosition']])('without %s', (id) => {
    expect(judged(0, 60, { without: [id] })).toMatchObject({ outcome: 'unproven', missing: { channels: [id] } });
  });
});
