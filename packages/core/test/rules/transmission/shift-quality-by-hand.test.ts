import { describe, expect, it } from 'vitest';
import { shiftQuality } from '../../../src/rules/transmission/shift-quality.js';
import { type JudgedShift, shiftedByHand } from '../../../src/rules/transmission/shift-quality-reading.js';
import { car, driveOf } from '../helpers.js';
import { gearDrive, tell } from './gears.js';

const RATIOS = [116, 70, 46, 35, 28, 23];

/** Shifts of so many seconds, in which the car keeps its speed; two of second gear four times as slow. */
function judged(seconds: number, kind?: 'dual-clutch' | 'converter') {
  const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 5, shift: (g, lap) => (g === 2 && lap < 2 ? 4 : 1) * seconds });
  return tell(
    shiftQuality,
    driveOf(
      d.time,
      {
        engineSpeed: d.n,
        vehicleSpeed: d.v,
        gear: d.gear,
        pedalPosition: d.pedal,
        coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
      },
      car({ transmission: kind === undefined ? {} : { kind } }),
    ),
  );
}

describe('transmission.shift-quality of a car that nobody said to be manual', () => {
  it('does not judge a hand', () => {
    const told = judged(0.6);
    expect(told.outcome).toBe('unproven');
    expect(told.summary).toContain('by hand');
    expect(told.missing?.conditions).toEqual(['kind of transmission in the vehicle profile']);
  });

  it('judges shifts that are quicker than a hand', () => {
    const told = judged(0.25);
    expect(told).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  it('judges what the profile names', () => {
    expect(judged(0.65, 'dual-clutch')).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  it.each([
    ['all slow, all without drive', 0.6, [true, true, true, true], true],
    ['slow, but under drive', 0.6, [false, false, false, true], false],
    ['without drive, but quicker than a hand', 0.3, [true, true, true, true], false],
    ['too few in which it could be seen', 0.6, [true, true, true, undefined], false],
  ] as const)('tells a hand: %s', (_name, duration, lost, expected) => {
    const shifts = lost.map((driveLost) => ({ kind: 'up', duration, driveLost }) as unknown as JudgedShift);
    expect(shiftedByHand(shifts)).toBe(expected);
  });
});
