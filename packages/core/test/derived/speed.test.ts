import { describe, expect, it } from 'vitest';
import { ACCELERATION, SPEED_SLOPE } from '../../src/derived/acceleration.js';
import { isRefusal, type Recipe } from '../../src/derived/recipe.js';
import { SPEED } from '../../src/derived/speed.js';
import { type DriveSpec, driveOf, gaussian, ramp, sampled } from './helpers.js';

function derive<T>(recipe: Recipe<T>, spec: DriveSpec): T {
  const found = driveOf(spec).derive(recipe);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

const profile = ramp([0, 0], [5, 0], [15, 108], [30, 108], [40, 36], [60, 36]);
/** True acceleration of that profile, m/s2. */
const truth = (t: number): number => (t > 5 && t < 15 ? 3 : t > 30 && t < 40 ? -2 : 0);

describe('SPEED', () => {
  const rows = 601;
  const road = sampled(rows, 10, profile, 0.01);
  const spinning = road.map((v, i) => v + (i > 60 && i < 90 ? 15 : 0));
  const wheels = {
    'wheelSpeed.frontLeft': road,
    'wheelSpeed.frontRight': road,
    'wheelSpeed.rearLeft': spinning,
    'wheelSpeed.rearRight': spinning,
  };

  it('is that of the undriven wheels where the profile names the driven axle', () => {
    const found = derive(SPEED, { hz: 10, channels: wheels, vehicle: { driveline: { driven: 'rear' } } });
    expect(found).toMatchObject({ source: 'wheelSpeed', undriven: true });
    expect(found.values[75]).toBe(road[75]);
  });

  it('is the middle of the wheels without a profile, so that one lying sensor does no harm', () => {
    const lying = { ...wheels, 'wheelSpeed.rearLeft': road, 'wheelSpeed.rearRight': road.map((v) => v * 1.4) };
    const found = derive(SPEED, { hz: 10, channels: lying });
    expect(found).toMatchObject({ source: 'wheelSpeed', undriven: false });
    expect(found.values[200]).toBeCloseTo(road[200]!, 9);
  });

  it('falls back on vehicleSpeed, then on satellites, which wander at rest', () => {
    expect(derive(SPEED, { hz: 10, channels: { vehicleSpeed: road, gpsSpeed: road } }).source).toBe('vehicleSpeed');
    expect(derive(SPEED, { hz: 10, channels: { gpsSpeed: road } })).toMatchObject({
      source: 'gpsSpeed',
      undriven: true,
      standing: 2,
    });
    expect(
      derive(SPEED, {
        hz: 10,
        channels: { ...wheels, 'wheelSpeed.frontLeft': new Float64Array(rows), vehicleSpeed: road },
      }).source,
    ).toBe('vehicleSpeed');
  });

  it('is refused without any, naming vehicleSpeed', () => {
    const found = driveOf({ hz: 10, channels: { engineSpeed: [800, 801] } }).derive(SPEED);
    expect(isRefusal(found) && found.missing.channels).toEqual(['vehicleSpeed']);
  });
});

describe('ACCELERATION', () => {
  it.each([
    [1, 1, 1],
    [5, 1, 1],
    [10, 0.01, 1],
    [20, 1, 4],
    [50, 0.01, 5],
    [100, 0.1, 1],
    [100, 1, 1],
  ])('at %i Hz, quantum %f km/h, renewed every %i rows: right in the middle of each phase', (hz, quantum, every) => {
    const found = derive(SPEED_SLOPE, {
      hz,
      channels: { vehicleSpeed: sampled(60 * hz + 1, hz, profile, quantum, every) },
    });
    for (const t of [10, 22, 35, 50]) {
      let total = 0;
      let count = 0;
      for (let i = Math.round((t - 2) * hz); i <= (t + 2) * hz; i++) {
        expect(Math.abs(found.values[i]! - truth(t)), `${t} s`).toBeLessThan(Math.max(0.1, 4 * found.u));
        total += found.values[i]!;
        count++;
      }
      expect(Math.abs(total / count - truth(t))).toBeLessThan(0.1);
    }
  });

  it('states a larger uncertainty for coarse speed', () => {
    const waving = (t: number): number => 60 + 30 * Math.sin(0.2 * t) + 5 * Math.sin(1.1 * t);
    const of = (quantum: number): number =>
      derive(SPEED_SLOPE, { hz: 10, channels: { vehicleSpeed: sampled(601, 10, waving, quantum) } }).u;
    expect(of(1)).toBeGreaterThan(5 * of(0.1));
  });

  it('tells nothing over a gap of the recording', () => {
    const time = Array.from({ length: 40 }, (_, i) => (i < 20 ? i : i + 60));
    const found = derive(ACCELERATION, { time, channels: { vehicleSpeed: time.map((t) => 50 + 10 * Math.sin(t)) } });
    expect(found.values.length).toBe(40);
    // The row before and after the gap hold a one-sided slope at most, never one across it.
    expect(Math.abs(found.values[19]!)).toBeLessThan(4);
  });

  it('takes a sensor that agrees with the speed, less its value at rest, whatever its sign', () => {
    const next = gaussian(4);
    const speed = sampled(6001, 100, profile, 1, 10);
    for (const sign of [1, -1]) {
      const sensor = sampled(6001, 100, (t) => sign * truth(t) + 0.4 + 0.05 * next(), 0.01);
      const found = derive(ACCELERATION, {
        hz: 100,
        channels: { vehicleSpeed: speed, longitudinalAcceleration: sensor },
      });
      expect(found.source).toBe('longitudinalAcceleration');
      expect(found.values[1000]).toBeCloseTo(3, 0);
      expect(Math.abs(found.values[2200]!)).toBeLessThan(0.3);
    }
  });

  it('does not take a sensor that has another axis', () => {
    const next = gaussian(4);
    const sensor = sampled(6001, 100, () => 2 * next(), 0.01);
    const found = derive(ACCELERATION, {
      hz: 100,
      channels: { vehicleSpeed: sampled(6001, 100, profile, 1, 10), longitudinalAcceleration: sensor },
    });
    expect(found.source).toBe('vehicleSpeed');
  });

  it('passes the refusal of the speed on', () => {
    const found = driveOf({ hz: 10, channels: { engineSpeed: [800, 801] } }).derive(ACCELERATION);
    expect(isRefusal(found) && found.missing.channels).toEqual(['vehicleSpeed']);
  });
});
