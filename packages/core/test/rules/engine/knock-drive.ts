import type { Drive } from '../../../src/derived/recipe.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { car, clock, driveOf, type Signal } from '../helpers.js';

/** Where a row lies: number of the pull (from 0) and seconds since its pedal went down; pull -1 between pulls. */
export interface Place {
  readonly pull: number;
  readonly since: number;
  readonly t: number;
  readonly rpm: number;
}

export type Retard = (place: Place) => number;

export interface PullDrive {
  readonly pulls?: number;
  readonly rate?: number;
  /** By channel id suffix: cylinder number, or 0 for the retard of the whole engine. */
  readonly retard: Readonly<Record<number, Retard>>;
  /** Seconds that the pedal takes to the floor. */
  readonly pedalTime?: number;
  /** Share of the rated torque in the pulls. */
  readonly share?: number;
  readonly vehicle?: Vehicle;
  /** Changes, adds (or with undefined removes) channels. */
  readonly signals?: Readonly<Record<string, Signal | undefined>>;
  readonly input?: number;
}

export const PERIOD = 30;
const START = 12;
const LENGTH = 6;

export const SIX = car({ engine: { cylinders: 6, ratedTorque: 400 } });

function placeAt(t: number, pulls: number): Place {
  const pull = Math.floor(t / PERIOD);
  const since = t - pull * PERIOD - START;
  const inside = pull < pulls && since >= -1e-9 && since <= LENGTH;
  const rpm = inside
    ? 2000 + 700 * Math.max(0, since)
    : since > LENGTH
      ? 6200 - 375 * Math.min(since - LENGTH, 11.2)
      : 2000;
  return { pull: inside ? pull : -1, since: inside ? Math.max(0, since) : Number.NaN, t, rpm: Math.max(1800, rpm) };
}

/** A drive in one gear: cruise, a pull of 6 s from 2000 to 6200 rpm every 30 s, and down again. */
export function pullDrive(options: PullDrive): Drive {
  const {
    pulls = 3,
    rate = 20,
    retard,
    pedalTime = 1.5,
    share = 0.95,
    vehicle = SIX,
    signals = {},
    input = 0,
  } = options;
  const time = clock(PERIOD * pulls, rate);
  const at = (t: number): Place => placeAt(t, pulls);
  const pedal = (t: number): number => {
    const { pull, since } = at(t);
    return pull < 0 ? 18 + 2 * Math.sin(t) : 18 + 82 * Math.min(1, since / pedalTime);
  };
  const base: Record<string, Signal | undefined> = {
    engineSpeed: (t: number) => at(t).rpm,
    vehicleSpeed: (t: number) => at(t).rpm / 50,
    pedalPosition: (t: number) => (t < 3 ? 0 : pedal(t)),
    engineTorque: (t: number) =>
      400 * (at(t).pull < 0 ? 0.2 + 0.03 * Math.sin(3 * t) : Math.min(share, 0.2 + (share * at(t).since) / pedalTime)),
    chargeAirTemperature: (t: number) => 32 + 3 * Math.sin(t / 20),
    ...signals,
  };
  for (const [cylinder, own] of Object.entries(retard)) {
    const id = cylinder === '0' ? 'knockRetard' : `knockRetard.cylinder${cylinder}`;
    base[id] = (t: number) => own(at(t));
  }
  const kept = Object.entries(base).filter((entry): entry is [string, Signal] => entry[1] !== undefined);
  return driveOf(time, Object.fromEntries(kept), vehicle, input);
}

/** No knock at all. */
export const silent: Retard = () => 0;

/** A step of `size` deg at `from` s into each of the given pulls, held for `hold` s, then back at `slope` deg/s. */
export function step(size: number, from: number, pulls: readonly number[], hold = 0.3, slope = 1.5): Retard {
  return ({ pull, since }) => {
    if (!pulls.includes(pull) || since < from - 1e-9) return 0;
    const tail = size - slope * Math.max(0, since - from - hold);
    return Math.max(0, round(tail));
  };
}

/** Control units print tenths. */
function round(deg: number): number {
  return Math.round(deg * 10) / 10;
}

/** The same retard on cylinders 1 to `count`, except those given. */
export function cylinders(count: number, own: Readonly<Record<number, Retard>> = {}): Record<number, Retard> {
  const all: Record<number, Retard> = {};
  for (let c = 1; c <= count; c++) all[c] = own[c] ?? silent;
  return all;
}
