import { describe, expect, it } from 'vitest';
import { PULL_AWAYS, type PullAway } from '../../src/derived/pull-aways.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { type DriveSpec, driveOf, gaussian, sampled } from './helpers.js';

/** km/h of a start at `begin`: acceleration rises over `rise` s to `a`, then fades (6 s) up to 70 km/h. */
const start =
  (a: number, rise: number, begin: number) =>
  (t: number): number => {
    const s = t - begin;
    if (s <= 0) return 0;
    const r = Math.min(s, rise);
    const v = (a * r * r) / (2 * rise) + (s > rise ? a * 6 * (1 - Math.exp(-(s - rise) / 6)) : 0);
    return Math.min(70, 3.6 * v);
  };

function pullAways(spec: DriveSpec): readonly PullAway[] {
  const found = driveOf(spec).derive(PULL_AWAYS);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe('PULL_AWAYS: mean acceleration over the first second', () => {
  it.each([
    [1, 1, 1],
    [2, 0.1, 1],
    [5, 1, 1],
    [10, 1, 1],
    [20, 0.1, 1],
    [20, 1, 5],
    [50, 1, 5],
    [100, 0.1, 1],
    [100, 1, 1],
  ])('at %i Hz, quantum %f km/h, renewed every %i rows: honest about what it knows', (hz, quantum, every) => {
    for (const [a, rise] of [
      [5.5, 0.25],
      [4, 0.3],
      [2.5, 0.5],
    ] as const) {
      let squares = 0;
      let worst = 0;
      const phases = 20;
      for (let k = 0; k < phases; k++) {
        const v = start(a, rise, 5 + ((k / phases) * every) / hz);
        const rows = 20 * hz + 1;
        const found = pullAways({
          hz,
          channels: {
            vehicleSpeed: sampled(rows, hz, v, quantum, every, 'floor'),
            engineSpeed: sampled(rows, hz, (t) => 900 + 30 * v(t) + 3 * Math.sin(9 * t), 0.25, every),
          },
        });
        expect(found.length).toBe(1);
        const { value, u } = found[0]!.meanAcceleration;
        const error = value - v(6 + ((k / phases) * every) / hz) / 3.6;
        squares += (error / u) ** 2;
        worst = Math.max(worst, Math.abs(error / u));
        expect(u).toBeLessThan(hz < 2 ? 1.5 : 0.9);
      }
      // Standard uncertainties: their root mean square stays at or below about 1.5 and no error beyond 3.5.
      expect(Math.sqrt(squares / phases), `a = ${a}`).toBeLessThan(1.5);
      expect(worst, `a = ${a}`).toBeLessThan(3.5);
    }
  });
});

describe('PULL_AWAYS: what it reports', () => {
  const hz = 20;
  const rows = 30 * hz + 1;
  const v = start(5, 0.25, 10);
  const engineSpeed = sampled(rows, hz, (t) => (t < 8 ? 800 : t < 10 ? 3400 : Math.max(2500, 60 * v(t))), 0.25);
  const pedalPosition = sampled(rows, hz, (t) => (t < 8 ? 16 : 86), 0.4);
  const vehicleSpeed = sampled(rows, hz, v, 0.1);
  const brakeSwitch = sampled(rows, hz, (t) => (t < 9.8 ? 1 : 0));
  const selector = sampled(rows, hz, (t) => (t < 5 ? 0 : 3));
  const channels = { vehicleSpeed, engineSpeed, pedalPosition, brakeSwitch, selector };

  it('what was held before, the brake, the selector, the pedal, the time to 40 km/h', () => {
    const [found, ...others] = pullAways({ hz, channels });
    expect(others).toEqual([]);
    expect(Math.abs(found!.from - 10)).toBeLessThan(0.1);
    expect(found!.standstill).toBeCloseTo(10, 0);
    expect(found!.heldEngineSpeed).toBeCloseTo(3400, 0);
    expect(found!.pedalAtHold).toBeCloseTo(100, 0);
    expect(found!.pedalMax).toBeCloseTo(100, 0);
    expect(found!.pedalKnown).toBe(true);
    expect(found!.brake).toBe(true);
    expect(found!.selector).toBe(3);
    // v(t) = 40 km/h: 11.111 = 5 * 0.125 + 30 (1 - exp(-(s - 0.25) / 6)).
    const exact = 0.25 - 6 * Math.log(1 - (40 / 3.6 - 0.625) / 30);
    expect(Math.abs(found!.timeTo40.value - exact)).toBeLessThan(0.12);
    expect(found!.wheelspin).toBe(false);
  });

  it('does not call the rise of engine speed during the start a hold', () => {
    const rising = sampled(rows, hz, (t) => (t < 9.9 ? 800 : Math.min(3500, 800 + 4000 * (t - 9.9))), 0.25);
    expect(pullAways({ hz, channels: { vehicleSpeed, engineSpeed: rising } })[0]!.heldEngineSpeed).toBeLessThan(1000);
  });

  it('says NaN or undefined of what was not recorded', () => {
    const [found] = pullAways({ hz, channels: { vehicleSpeed } });
    expect(found!.heldEngineSpeed).toBeNaN();
    expect(found!.pedalMax).toBeNaN();
    expect(found!.brake).toBeUndefined();
    expect(found!.sensed).toBeNaN();
  });

  it('reads the acceleration sensor, less its value at rest', () => {
    const next = gaussian(9);
    const longitudinalAcceleration = sampled(
      rows,
      hz,
      (t) => 0.5 + (v(t + 0.025) - v(t - 0.025)) / 3.6 / 0.05 + 0.1 * next(),
      0.01,
    );
    const [found] = pullAways({ hz, channels: { ...channels, longitudinalAcceleration } });
    expect(found!.sensed).toBeCloseTo(v(11) / 3.6, 0);
  });

  it('is refused without a speed, naming it, and when the car never moves', () => {
    const none = driveOf({ hz, channels: { engineSpeed } }).derive(PULL_AWAYS);
    expect(isRefusal(none) && none.missing.channels).toEqual(['vehicleSpeed']);
    const still = driveOf({ hz, channels: { engineSpeed, vehicleSpeed: new Float64Array(rows) } }).derive(PULL_AWAYS);
    expect(isRefusal(still)).toBe(true);
  });
});

describe('PULL_AWAYS: decoys', () => {
  it('counts creep as a gentle start, and a rolling restart not at all', () => {
    const hz = 10;
    const creep = sampled(301, hz, (t) => (t < 5 ? 0 : Math.min(7, 2 * (t - 5))), 1);
    expect(pullAways({ hz, channels: { vehicleSpeed: creep } })[0]!.meanAcceleration.value).toBeLessThan(1);
    const rolling = sampled(301, hz, (t) => (t < 5 ? 4 : Math.min(70, 4 + 18 * (t - 5))), 1);
    expect(pullAways({ hz, channels: { vehicleSpeed: rolling } })).toEqual([]);
  });

  it('marks wheelspin: faster than tyres push, or gone again at once', () => {
    const hz = 20;
    const wild = sampled(401, hz, (t) => (t < 5 ? 0 : Math.min(70, 54 * (t - 5))), 0.1);
    expect(pullAways({ hz, channels: { vehicleSpeed: wild } })[0]!.wheelspin).toBe(true);
    const ice = sampled(401, hz, (t) => (t < 5 ? 0 : t < 6.5 ? 25 * (t - 5) : 8), 0.1);
    expect(pullAways({ hz, channels: { vehicleSpeed: ice } })[0]!.wheelspin).toBe(true);
  });

  it('does not make a start of the end of a recording or of a gap', () => {
    expect(
      pullAways({ hz: 10, channels: { vehicleSpeed: [...new Array(50).fill(20), ...new Array(50).fill(0), 2, 4] } }),
    ).toEqual([]);
    const time = [...Array.from({ length: 20 }, (_, i) => i), ...Array.from({ length: 20 }, (_, i) => 100 + i)];
    expect(pullAways({ time, channels: { vehicleSpeed: time.map((t) => (t < 50 ? 0 : 60)) } })).toEqual([]);
  });

  it('does not see a standstill in the empty cells of a multi-rate column', () => {
    const full = sampled(601, 10, (t) => 40 + 20 * Math.sin(t / 3), 0.1);
    expect(
      pullAways({ hz: 10, channels: { vehicleSpeed: full.map((x, i) => (i % 5 === 0 ? x : Number.NaN)) } }),
    ).toEqual([]);
  });
});
