import { describe, expect, it } from 'vitest';
import { ENGINE_STOPS, type EngineStop } from '../../src/derived/engine-stops.js';
import { clock, driveOf, type Signal } from '../rules/helpers.js';

/** Runs until 60 s, stands for `off` s, then runs again for a minute when `again`. */
function stopsOf(off: number, again: boolean, more: Record<string, Signal> = {}, keep = (_t: number) => true) {
  const time = clock(60 + off + (again ? 60 : 0) - 0.1, 10).filter(keep);
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (t >= 60 && t < 60 + off ? 0 : 900 + 20 * Math.sin(t)),
    vehicleSpeed: (t) => (t < 50 ? 30 : 0),
    ...more,
  };
  return driveOf(time, signals).derive(ENGINE_STOPS) as readonly EngineStop[];
}

describe('engine stops', () => {
  it('are seen after three seconds of standing, with their moment', () => {
    expect(stopsOf(2.9, false)).toEqual([]);
    const [stop] = stopsOf(3, false);
    expect(stop).toMatchObject({ kind: 'switched-off', certain: false });
    expect(stop!.at).toBeCloseTo(59.9, 6);
    expect(stop!.off).toBeCloseTo(3, 6);
  });

  it.each<[string, number, boolean, Record<string, Signal>, string]>([
    ['a restart within three minutes', 179, true, {}, 'automatic'],
    ['a restart later', 181, true, {}, 'switched-off'],
    ['the flag of automatic stops', 20, false, { startStopActive: (t) => (t > 60 ? 1 : 0) }, 'automatic'],
    ['the ignition', 20, true, { ignitionSwitch: (t) => (t > 60 && t < 75 ? 0 : 1) }, 'switched-off'],
    ['an ignition flag that is always 0 is not served', 20, true, { ignitionSwitch: () => 0 }, 'automatic'],
    ['selector in P', 20, false, { selector: (t) => (t > 58 ? 0 : 3) }, 'switched-off'],
    ['selector in D', 20, false, { selector: () => 3 }, 'automatic'],
    ['three minutes in D', 181, false, { selector: () => 3 }, 'switched-off'],
    ['a brake that is held to the end', 20, false, { brakeSwitch: (t) => (t > 55 ? 1 : 0) }, 'open'],
    ['a car that rolls', 20, false, { vehicleSpeed: () => 30 }, 'automatic'],
  ])('%s', (_name, off, again, more, kind) => {
    expect(stopsOf(off, again, more).map((stop) => stop.kind)).toEqual([kind]);
  });

  it('are not told across a gap, nor from an engine that never ran', () => {
    expect(stopsOf(20, false, {}, (t) => t < 55 || t > 65)).toEqual([]);
    expect(stopsOf(20, false, { engineSpeed: () => 0 })).toEqual([]);
  });
});
