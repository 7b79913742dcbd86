import type { Drive } from '../../../src/derived/recipe.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';
import { clock, driveOf, type Signal } from '../helpers.js';

/** One start from standstill. */
export interface Start {
  /** m/s2, constant until 60 km/h. */
  readonly acceleration: number;
  /** rpm and pedal (%) in the last 1.5 s at rest. */
  readonly heldEngineSpeed?: number;
  readonly heldPedal?: number;
  /** Pedal (%) while it gains speed. */
  readonly pedal?: number;
  /** rpm in the second that ends 1.2 s before the start. */
  readonly revBefore?: number;
  /** Factor by which driven wheels outrun the car in the first 1.5 s. */
  readonly spin?: number;
  readonly flag?: boolean;
}

const PERIOD = 60;
const REST = 20.013;
const TOP = 60 / 3.6;

interface State {
  readonly start: Start;
  /** Seconds since the car began to move, negative at rest. */
  readonly since: number;
  /** m/s */
  readonly speed: number;
  readonly braking: boolean;
}

/** Of every 60 s: 20 s at rest, a start to 60 km/h, cruise, stop; with `km` more of motorway in each cruise. */
export function startDrive(
  starts: readonly Start[],
  options: {
    readonly rate?: number;
    readonly vehicle?: Vehicle;
    readonly signals?: Readonly<Record<string, Signal | undefined>>;
    readonly input?: number;
    /** Decimals of the speed (km/h). */
    readonly decimals?: number;
  } = {},
): Drive {
  const { rate = 20, vehicle, signals = {}, input = 0, decimals = 1 } = options;
  const at = (t: number): State => {
    const index = Math.min(starts.length - 1, Math.floor(t / PERIOD));
    const start = starts[index]!;
    const since = t - index * PERIOD - REST;
    if (since < 0 || since > 38) return { start, since: since < 0 ? since : -1e9, speed: 0, braking: since > 38 };
    const braking = since > 30;
    const speed = braking ? TOP * Math.max(0, 1 - (since - 30) / 7) : Math.min(TOP, start.acceleration * since);
    return { start, since, speed, braking };
  };
  const engine = (t: number): number => {
    const { start, since, speed } = at(t);
    const { heldEngineSpeed = 800, revBefore } = start;
    if (since < 0) {
      if (since > -1.5) return heldEngineSpeed;
      return revBefore !== undefined && since > -2.9 && since < -1.9 ? revBefore : 800 + 5 * Math.sin(t);
    }
    return Math.max(since < 1 ? heldEngineSpeed : 800, 800 + (speed * 3.6 * 5000) / 80);
  };
  const round = (v: number): number => Math.round(v * 10 ** decimals) / 10 ** decimals;
  const seen = (t: number): number => {
    const { start, since, speed } = at(t);
    return speed * (start.spin !== undefined && since >= 0 && since < 1.5 ? start.spin : 1);
  };
  const all: Record<string, Signal | undefined> = {
    vehicleSpeed: (t: number) => round(seen(t) * 3.6),
    engineSpeed: engine,
    pedalPosition: (t: number) => {
      const { start, since, speed, braking } = at(t);
      if (since < 0) return since > -1.5 ? (start.heldPedal ?? 0) : 0;
      if (braking) return 0;
      return speed < TOP ? (start.pedal ?? 40) : 25;
    },
    ...signals,
  };
  if (starts.some((start) => start.flag !== undefined) && !('launchControlActive' in signals)) {
    all.launchControlActive = (t: number) => (at(t).start.flag && at(t).since > -1 && at(t).since < 1.5 ? 1 : 0);
  }
  const kept = Object.entries(all).filter((entry): entry is [string, Signal] => entry[1] !== undefined);
  return driveOf(clock(PERIOD * starts.length, rate), Object.fromEntries(kept), vehicle, input);
}

/** m/s2 that the car of `startDrive` really has at `t`. */
export function trueAcceleration(starts: readonly Start[]): (t: number) => number {
  return (t) => {
    const index = Math.min(starts.length - 1, Math.floor(t / PERIOD));
    const since = t - index * PERIOD - REST;
    const a = starts[index]!.acceleration;
    if (since >= 0 && since < TOP / a) return a;
    return since > 30 && since < 37 ? -TOP / 7 : 0;
  };
}

export const ORDINARY: Start = { acceleration: 1.6, pedal: 25 };
/** Something in every drive presses the pedal to the floor, so that its travel is known. */
export const FLOORED: Start = { acceleration: 2.4, pedal: 100 };
export const LAUNCH: Start = { acceleration: 5.5, heldEngineSpeed: 3200, heldPedal: 100, pedal: 100 };
