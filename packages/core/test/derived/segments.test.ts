import { describe, expect, it } from 'vitest';
import { totalDuration } from '../../src/derived/intervals.js';
import { isRefusal, type Recipe } from '../../src/derived/recipe.js';
import {
  apart,
  BRAKING,
  CRUISE,
  IDLE,
  LOAD,
  OVERRUN,
  PULLS,
  SEGMENTS,
  type Segment,
  STANDSTILL,
  segmentsOfKind,
} from '../../src/derived/segments.js';
import { type DriveSpec, driveOf, ramp, sampled } from './helpers.js';

const HZ = 10;
const ROWS = 1801;
/** 0-30 idle, 30-40 away, 40-90 cruise, 90-96 pull, 96-110 overrun, 110-120 braking to rest, 120-180 idle. */
const CHANNELS: Readonly<Record<string, Float64Array>> = {
  vehicleSpeed: sampled(ROWS, HZ, ramp([30, 0], [40, 60], [90, 60], [96, 120], [110, 90], [120, 0]), 0.1),
  engineSpeed: sampled(
    ROWS,
    HZ,
    (t) =>
      ramp([30, 780], [40, 2000], [90, 2000], [96, 5500], [110, 3500], [119, 900], [121, 780])(t) + 4 * Math.sin(9 * t),
    0.25,
  ),
  pedalPosition: sampled(
    ROWS,
    HZ,
    (t) => (t < 30 ? 16 : t < 40 ? 35 : t < 90 ? 25 + Math.sin(t) : t < 96 ? 86 : 16),
    0.392,
  ),
  engineTorque: sampled(
    ROWS,
    HZ,
    (t) => (t < 30 ? 20 : t < 40 ? 200 : t < 90 ? 100 + 20 * Math.sin(t) : t < 96 ? 580 : 15) + 3 * Math.sin(5 * t),
    1,
  ),
  coolantTemperature: sampled(ROWS, HZ, (t) => Math.min(92, 60 + t / 2), 1),
};
const vehicle = { engine: { ratedTorque: 610 } };

function segments(recipe: Recipe<readonly Segment[]>, channels: DriveSpec['channels'] = CHANNELS): readonly Segment[] {
  const found = driveOf({ hz: HZ, channels, vehicle }).derive(recipe);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}
const without = (...ids: string[]): DriveSpec['channels'] =>
  Object.fromEntries(Object.entries(CHANNELS).filter(([id]) => !ids.includes(id)));
const bounds = (list: readonly Segment[]): [number, number][] =>
  list.map(({ from, to }) => [Math.round(from), Math.round(to)]);

describe('segments of one drive', () => {
  it('standstill', () =>
    expect(bounds(segments(STANDSTILL))).toEqual([
      [0, 30],
      [120, 180],
    ]));
  it('idle', () =>
    expect(bounds(segments(IDLE))).toEqual([
      [0, 30],
      [120, 180],
    ]));
  it('cruise', () => {
    const found = segments(CRUISE);
    expect(totalDuration(found)).toBeGreaterThan(48);
    for (const { from, to } of found) expect(from >= 33 && to <= 121).toBe(true);
    // Neither the pull nor the overrun behind it.
    expect(found.some((s) => s.to > 91 && s.from < 109)).toBe(false);
  });
  it('pull', () => expect(bounds(segments(PULLS))).toEqual([[90, 96]]));
  it('overrun', () => expect(bounds(segments(OVERRUN))).toEqual([[96, 118]]));
  it('braking', () => expect(bounds(segments(BRAKING))).toEqual([[110, 120]]));
  it('all at once, and by name', () => {
    const drive = driveOf({ hz: HZ, channels: CHANNELS, vehicle });
    const all = drive.derive(SEGMENTS);
    if (isRefusal(all)) throw new Error(all.reason);
    expect(all.pull).toBe(drive.derive(PULLS));
    expect(all.idle).toBe(drive.derive(segmentsOfKind('idle')));
  });
});

describe('what segments must not be fooled by', () => {
  it('full pedal against the brake is no pull, nor is a short kick', () => {
    const held = {
      ...CHANNELS,
      pedalPosition: sampled(
        ROWS,
        HZ,
        (t) => ((t > 5 && t < 10) || (t > 50 && t < 51.5) || (t > 90 && t < 96) ? 86 : 16),
        0.392,
      ),
    };
    expect(bounds(segments(PULLS, held))).toEqual([[90, 96]]);
  });

  it('an end of travel never seen is a refusal, not "no pull"', () => {
    const gentle = {
      ...CHANNELS,
      pedalPosition: sampled(ROWS, HZ, (t) => (t > 30 && t < 96 ? 30 + 8 * Math.sin(t) : 16), 0.392),
    };
    const found = driveOf({ hz: HZ, channels: gentle }).derive(PULLS);
    expect(isRefusal(found) && found.missing.conditions).toEqual(['accelerator pressed to the floor once']);
  });

  it('coasting at idle speed is no overrun', () => {
    const neutral = {
      ...CHANNELS,
      engineSpeed: sampled(ROWS, HZ, (t) => (t > 96 ? 800 : 2000) + 4 * Math.sin(9 * t), 0.25),
    };
    expect(segments(OVERRUN, neutral)).toEqual([]);
  });

  it('an engine at rest does not idle', () => {
    const off = { ...CHANNELS, engineSpeed: CHANNELS.engineSpeed!.map((n, i) => (i > 1500 ? 0 : n)) };
    expect(bounds(segments(IDLE, off))).toEqual([
      [0, 30],
      [120, 150],
    ]);
  });

  it('a gap of the recording ends a segment', () => {
    const time = Array.from({ length: ROWS }, (_, i) => i / HZ + (i > 1400 ? 60 : 0));
    const found = driveOf({ time, channels: CHANNELS, vehicle }).derive(IDLE);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(bounds(found)).toEqual([
      [0, 30],
      [120, 140],
      [200, 240],
    ]);
  });

  it('idle without a pedal channel: throttle near rest, else calculated load low', () => {
    const throttlePosition = sampled(
      ROWS,
      HZ,
      (t) => (t > 30 && t < 96 ? 40 + 5 * Math.sin(t) : 15 + 0.5 * Math.sin(t)),
      0.392,
    );
    expect(bounds(segments(IDLE, { ...without('pedalPosition'), throttlePosition }))).toEqual([
      [0, 30],
      [120, 180],
    ]);
    const engineLoad = sampled(ROWS, HZ, (t) => (t > 30 && t < 96 ? 60 + 5 * Math.sin(t) : 22 + Math.sin(t)), 0.392);
    expect(bounds(segments(IDLE, { ...without('pedalPosition'), engineLoad }))).toEqual([
      [0, 30],
      [120, 180],
    ]);
  });

  it('idle with nothing that shows the pedal: the engine at its usual speed', () => {
    const revved = CHANNELS.engineSpeed!.map((n, i) => (i > 1500 && i < 1550 ? 2000 : n));
    expect(bounds(segments(IDLE, { ...without('pedalPosition'), engineSpeed: revved }))).toEqual([
      [0, 30],
      [120, 150],
      [155, 180],
    ]);
  });

  it('names what is missing', () => {
    const refused = (recipe: Recipe<readonly Segment[]>, ...ids: string[]): readonly string[] => {
      const found = driveOf({ hz: HZ, channels: without(...ids) }).derive(recipe);
      return isRefusal(found) ? found.missing.channels : ['not refused'];
    };
    expect(refused(IDLE, 'pedalPosition', 'engineSpeed')).toEqual(['pedalPosition']);
    expect(refused(IDLE, 'vehicleSpeed')).toEqual(['vehicleSpeed']);
    expect(refused(STANDSTILL, 'vehicleSpeed')).toEqual(['vehicleSpeed']);
    expect(refused(BRAKING, 'vehicleSpeed')).toEqual(['vehicleSpeed']);
    expect(refused(CRUISE, 'vehicleSpeed')).toEqual(['vehicleSpeed']);
    expect(refused(CRUISE, 'engineTorque')).toEqual(['engineLoad']);
    expect(refused(LOAD, 'engineTorque')).toEqual(['engineLoad']);
    const cold = driveOf({ hz: HZ, channels: without('coolantTemperature'), vehicle }).derive(LOAD);
    expect(isRefusal(cold) && cold.missing.channels).toEqual(['fuelSystemStatus', 'coolantTemperature']);
    expect(refused(OVERRUN, 'engineSpeed')).toEqual(['engineSpeed']);
  });
});

describe('the same drive at other rates', () => {
  it.each([
    [1, 1],
    [10, 10],
    [50, 5],
    [100, 1],
  ])('%i Hz rows, renewed every %i rows: the same segments within a second', (hz, every) => {
    const step = HZ / hz;
    const rows = 180 * hz + 1;
    const channels = Object.fromEntries(
      Object.entries(CHANNELS).map(([id, values]) => [
        id,
        Float64Array.from({ length: rows }, (_, i) => values[Math.round((i - (i % every)) * step)]!),
      ]),
    );
    const drive = driveOf({ hz, channels, vehicle });
    for (const kind of ['standstill', 'idle', 'pull', 'overrun', 'braking'] as const) {
      const found = drive.derive(segmentsOfKind(kind));
      if (isRefusal(found)) throw new Error(found.reason);
      const reference = segments(segmentsOfKind(kind));
      expect(found.length, kind).toBe(reference.length);
      for (const [k, s] of found.entries()) {
        expect(Math.abs(s.from - reference[k]!.from), kind).toBeLessThanOrEqual(1.1);
        expect(Math.abs(s.to - reference[k]!.to), kind).toBeLessThanOrEqual(1.1);
      }
    }
  });
});

describe('apart', () => {
  it('takes the surroundings of the others out', () => {
    const time = Float64Array.from({ length: 11 }, (_, i) => i);
    const whole = [{ from: 0, to: 10, start: 0, end: 10 }];
    expect(bounds(apart(whole, [{ from: 5, to: 5, start: 5, end: 5 }], time, 1))).toEqual([
      [0, 3],
      [7, 10],
    ]);
  });
});
