import { describe, expect, it } from 'vitest';
import { launches } from '../../../src/rules/usage/launches.js';
import { clock, driveOf, runRule } from '../helpers.js';

/** Four starts held at 3500 rpm and full pedal, with constant acceleration (m/s2), logged in whole km/h. */
function outcome(rate: number, acceleration: number, phase: number, whole: (v: number) => number): string {
  const since = (t: number): number => (t % 60) - 20 - phase / rate;
  const speed = (t: number): number => {
    const s = since(t);
    return s < 0 ? 0 : s > 30 ? Math.max(0, 60 - (s - 30) * 9) : Math.min(60, acceleration * s * 3.6);
  };
  const held = (t: number): boolean => since(t) > -2.5 && since(t) < 1;
  const drive = driveOf(clock(240, rate), {
    vehicleSpeed: (t) => whole(speed(t)),
    engineSpeed: (t) => (held(t) ? 3500 : 800 + speed(t) * 60),
    pedalPosition: (t) => (since(t) > -2.5 && since(t) < 5 ? 100 : since(t) < 0 || since(t) > 30 ? 0 : 20),
  });
  return runRule(launches, [drive]).outcome;
}

describe.each([1, 2, 3, 4])('usage.launches at %d Hz in whole km/h, wherever the samples fall', (rate) => {
  const outcomes = (acceleration: number): string[] =>
    Array.from({ length: 20 }, (_, p) =>
      [Math.round, Math.floor].map((whole) => outcome(rate, acceleration, p / 20, whole)),
    ).flat();

  it.each([3.8, 4, 4.5, 6])('never calls %d m/s2 clear', (acceleration) => {
    expect(outcomes(acceleration)).not.toContain('clear');
  });

  it('never takes brisk starts for launches', () => {
    expect(outcomes(2.5)).not.toContain('finding');
  });
});

it('a brisk start of 2 m/s2 is proven to be none from 2 Hz on', () => {
  for (const rate of [2, 3, 4])
    for (const phase of [0, 0.3, 0.7]) expect(outcome(rate, 2, phase, Math.round), `${rate} Hz`).toBe('clear');
});

it('the moment before a brisk start is no hold in a log of one second, and two samples of it are', () => {
  const told = (rate: number, held: number, phase: number): string => {
    const since = (t: number): number => (t % 60) - 20 - phase;
    const drive = driveOf(clock(240, rate), {
      vehicleSpeed: (t) =>
        Math.round(
          since(t) < 0 ? 0 : since(t) > 30 ? Math.max(0, 60 - (since(t) - 30) * 9) : Math.min(60, 20 * since(t)),
        ),
      engineSpeed: (t) => (since(t) > -held && since(t) < 1 ? 3000 : 800 + (Math.round(t) % 3)),
      pedalPosition: (t) => (since(t) > -held && since(t) < 5 ? 100 : since(t) < 0 || since(t) > 30 ? 0 : 20),
    });
    return runRule(launches, [drive]).outcome;
  };
  expect(told(10, 0.2, 0.05)).toBe('clear');
  // A sample falls into the fifth of a second.
  expect(told(1, 0.2, 0.1)).toBe('unproven');
  expect(told(1, 2.5, 0.1)).toBe('finding');
});
