import type { Drive } from '../../../src/derived/recipe.js';
import type { Result } from '../../../src/engine/assessment.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, type Signal } from '../helpers.js';

/** Seconds since the start of the pull of 8 s in each half minute; -1 outside. The first begins at 20 s. */
export function inPull(t: number): number {
  const s = t < 20 ? -1 : (t - 20) % 30;
  return s >= 0 && s < 8 ? s : -1;
}

/** rpm of a drive with two pulls from 2000 to 6400 rpm. */
export function rpmAt(t: number): number {
  const s = inPull(t);
  return s < 0 ? 1900 + (Math.round(t * 3) % 5) : 2000 + 550 * s;
}

/** Two pulls with full pedal; signals over the usual ones replace them, `undefined` leaves one out. */
export function pullDrive(
  more: Readonly<Record<string, Signal | undefined>> = {},
  engine: Vehicle['engine'] = { displacement: 2, cylinders: 4, revLimit: 7000 },
  rate = 10,
  input = 0,
  patch: Partial<Vehicle> = {},
): Drive {
  const usual: Record<string, Signal | undefined> = {
    engineSpeed: { values: rpmAt, quality: { rate, quantum: 1 } },
    vehicleSpeed: {
      values: (t) => (t < 4 ? 0 : inPull(t) < 0 ? 60 + (Math.round(t) % 2) : 60 + 8 * inPull(t)),
      quality: { rate },
    },
    pedalPosition: {
      values: (t) => (t < 4 ? 0 : inPull(t) < 0 ? 15 + (Math.round(t * 3) % 3) : 100),
      quality: { rate },
    },
    coolantTemperature: (t) => 90 + (Math.round(t / 5) % 2),
    ...more,
  };
  const signals: Record<string, Signal> = {};
  for (const [id, signal] of Object.entries(usual)) if (signal !== undefined) signals[id] = signal;
  return driveOf(clock(80, rate), signals, { ...car({ engine }), ...patch }, input);
}

/** A measure of a result; NaN when it is not there. */
export function measure(result: Result, name: string): number {
  return 'measures' in result ? Number(result.measures?.[name]?.value ?? Number.NaN) : Number.NaN;
}

/** Limits, events and notes of a result, where it has them. */
export function partsOf(result: Result) {
  return {
    limit: (name: string) => ('limits' in result ? result.limits?.find((each) => each.name === name) : undefined),
    events: 'events' in result ? (result.events ?? []) : [],
    notes: 'notes' in result ? (result.notes ?? []).join(' ') : '',
  };
}
