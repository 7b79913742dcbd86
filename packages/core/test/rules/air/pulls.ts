import { car, clock, driveOf, type Signal, type VehiclePatch } from '../helpers.js';

/** Value at a moment: seconds of the pull (negative = between pulls), its number from 1, time, and a tick that makes noise. */
export type Read = (s: number, pull: number, t: number, tick: number) => number;

export interface Wish {
  readonly pulls?: number;
  readonly seconds?: number;
  readonly rate?: number;
  readonly gear?: number;
  readonly rpm?: Read;
  readonly more?: Readonly<Record<string, Read>>;
  /** Channels renewed less often than the rows (Hz). */
  readonly slow?: Readonly<Record<string, number>>;
  readonly quantum?: Readonly<Record<string, number>>;
  readonly place?: Readonly<Record<string, 'manifold' | 'before-throttle' | 'before-compressor'>>;
  readonly without?: readonly string[];
  readonly vehicle?: VehiclePatch;
  readonly input?: number;
}

const EVERY = 25;
const FIRST = 30;

/** Cruise at 70 km/h with full-load pulls (8 s, third gear, 2000 to 6000 rpm) every 25 s; all wheels alike, nothing shifts. */
export function pullDrive(wish: Wish = {}) {
  const { pulls = 3, seconds = 8, rate = 10, gear = 3, more = {}, slow = {}, quantum = {}, place = {} } = wish;
  const since = (t: number): number => {
    const s = t < FIRST ? -1 : (t - FIRST) % EVERY;
    return s >= 0 && s <= seconds && t < FIRST + EVERY * pulls ? s : -1;
  };
  const rpm: Read = wish.rpm ?? ((s, _p, _t, tick) => (s < 0 ? 2000 + tick : 2000 + (4000 * s) / seconds));
  const speed: Read = (s, p, t, tick) => rpm(s, p, t, tick) / 30;
  const reads: Record<string, Read> = {
    engineSpeed: rpm,
    vehicleSpeed: speed,
    'wheelSpeed.frontLeft': speed,
    'wheelSpeed.frontRight': speed,
    'wheelSpeed.rearLeft': speed,
    'wheelSpeed.rearRight': speed,
    pedalPosition: (s, _p, _t, tick) => (s < 0 ? 15 + tick : 100),
    throttlePosition: (s, _p, _t, tick) => (s < 0 ? 12 + tick : 86),
    gear: () => gear,
    barometricPressure: () => 100,
    engineOilTemperature: () => 90,
    coolantTemperature: () => 90,
    ...more,
  };
  const signals: Record<string, Signal> = {};
  for (const [id, read] of Object.entries(reads)) {
    if (wish.without?.includes(id)) continue;
    const hz = slow[id] ?? rate;
    const values = (t: number): number => {
      const at = Math.floor(t * hz + 1e-6) / hz;
      const s = since(at);
      return read(s, Math.floor((at - FIRST) / EVERY) + 1, at, Math.round(at * 7) % 3);
    };
    const told = quantum[id];
    const where = place[id];
    signals[id] = {
      values,
      quality: { rate: hz, ...(told === undefined ? {} : { quantum: told }) },
      ...(where === undefined ? {} : { place: where }),
    };
  }
  return driveOf(clock(FIRST + EVERY * pulls + 10, rate), signals, car(wish.vehicle ?? {}), wish.input ?? 0);
}

/** Charge pressure of a healthy turbocharger, kPa: at the barometer between pulls, 200 after a second. */
export const charge: Read = (s, _p, _t, tick) => (s < 0 ? 100 + 0.1 * tick : 100 + 100 * Math.min(1, s / 1.2));
