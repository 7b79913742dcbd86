import { describe, expect, it } from 'vitest';
import { meterRange } from '../../../src/rules/air/meter-range.js';
import { runRule } from '../helpers.js';
import { charge, pullDrive, type Read, type Wish } from './pulls.js';

/** Flow that rises by 50 g/s a second and ends at a value. */
const ending =
  (end: number, pulls = 9): Read =>
  (s, p, _t, tick) =>
    s < 0 ? 20 + tick : Math.min(p <= pulls ? end : 900, 40 + 50 * s + 0.03 * tick);
const wish = (airMassFlow: Read, more: Wish = {}): Wish => ({
  quantum: { airMassFlow: 0.01 },
  ...more,
  more: { airMassFlow, manifoldPressure: charge, ...more.more },
});
const judged = (read: Read, more?: Wish) => runRule(meterRange, pullDrive(wish(read, more)));
const told = (read: Read, more?: Wish) => {
  const result = judged(read, more);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};
/** End that a pull of 8 s reaches so many seconds before it is over. */
const at = (seconds: number): number => 40 + 50 * (8 - seconds);

describe('limit', () => {
  // Both ends lie between samples at 10 Hz: a guard band of 0.07 s.
  it.each([
    [0, 'clear'],
    [0.3, 'clear'],
    [0.4, 'repair'],
    [3, 'repair'],
  ])('%f s on the same maximum', (seconds, outcome) => expect(told(ending(at(seconds)), { rate: 20 })).toBe(outcome));

  it('in two pulls, of one drive or two', () => {
    expect(told(ending(at(3), 1))).toBe('clear');
    const drive = (input: number) => pullDrive(wish(ending(at(3)), { pulls: 1, input }));
    expect(runRule(meterRange, [drive(0), drive(1)]).outcome).toBe('finding');
    expect(runRule(meterRange, drive(0)).outcome).toBe('unproven');
  });

  it('takes the limit of the profile', () => {
    const vehicle = { limits: { 'air.meter-range': { repair: { value: 5, unit: 's' } } } };
    expect(told(ending(at(3)), { vehicle })).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('the end of the format', () => {
    expect(judged(ending(255), { quantum: { airMassFlow: 1 } })).toMatchObject({ outcome: 'unproven' });
    const large: Read = (s, p, t, tick) => Math.min(655.35, 3 * ending(900)(s, p, t, tick));
    expect(told(large)).toBe('unproven');
  });
  it('constant power: engine speed x pressure stands still as well', () => {
    const rpm: Read = (s, _p, _t, tick) => (s < 0 ? 2000 + tick : 2000 + 500 * s);
    const falling: Read = (s, p, t, tick) => (s < 4 ? charge(s, p, t, tick) : (200 * 4000) / rpm(s, p, t, tick));
    expect(told(ending(240), { rpm, more: { manifoldPressure: falling } })).toBe('clear');
  });
  it('a slow channel that repeats its value', () => {
    expect(told(ending(900), { slow: { airMassFlow: 2 } })).toBe('unproven');
  });
});

describe('a log slower than the limit takes', () => {
  // Three fresh samples at least, and their spacing is in doubt at both ends.
  it.each([
    [5, 0.3, 'unproven'],
    [5, 1.2, 'repair'],
    [4, 3, 'repair'],
    [1, 5, 'repair'],
    [1, 0.5, 'unproven'],
  ])('%f Hz, %f s on the same maximum: %s', (rate, seconds, outcome) =>
    expect(told(ending(at(seconds)), { rate })).toBe(outcome),
  );
  it('is not fooled by a slow meter among quick channels', () =>
    expect(told(ending(900), { rate: 20, slow: { airMassFlow: 5 } })).toBe('unproven'));
});

describe('unproven', () => {
  it.each([['airMassFlow'], ['manifoldPressure'], ['pedalPosition']])('without %s', (id) => {
    expect(judged(ending(at(3)), { without: [id] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: [id] },
    });
  });
  it('too slow: names channel and rate', () => {
    const result = judged(ending(900), { rate: 4 });
    expect(result.outcome).toBe('unproven');
    if (result.outcome === 'unproven') expect(result.missing.conditions.join()).toMatch(/airMassFlow at >= 10 Hz/);
  });
});
