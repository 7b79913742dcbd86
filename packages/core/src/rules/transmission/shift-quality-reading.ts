import type { ShiftEvent, Shifts } from '../../derived/shift-events.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import type { Vehicle } from '../../vehicle/vehicle.js';

/** A shift that can be judged, with what is normal for shifts of its kind on this car. */
export interface JudgedShift extends ShiftEvent {
  readonly input: number;
  /** The foot stayed still all the way: its duration counts. */
  readonly steady: boolean;
  /** A power-on upshift whose flare counts: the foot stayed still until the shaft ran over. What it does then answers the flare. */
  readonly shows: boolean;
  /** Shaft that the ratio was taken from. */
  readonly shaft: string;
  /** Median flare of like shifts, rpm; NaN for a downshift. */
  readonly usualFlare: number;
  /** Longest duration that is normal for like shifts, s; NaN with fewer than 8 like ones. */
  readonly normal: number;
  /** Median duration of like shifts, s. */
  readonly usual: number;
}

/** Like shifts that make a distribution (rule catalogue). */
export const LIKE = 8;
/** Shortest excess over the usual that counts, s (rule catalogue). */
const EXCESS = 0.15;
/** Fluid that is colder than this (degC) shifts slowly by design. Common practice, no source. */
const COLD = 40;
/** Shaft speed that near the limit (rpm) is held back by the limiter. */
const NEAR_LIMIT = 250;
/** rpm below which a shift on the way to standstill is a hand-over on slipping clutches. */
const SLOW = 900;

/** Shifts that show the gearbox and not the driver: no skipped gear, no limiter, no cold fluid. Others stay out, whatever they took. */
function judgeable({ power, skip, speed, fluid }: ShiftEvent, vehicle: Vehicle): boolean {
  if (skip || fluid < COLD || speed < SLOW) return false;
  const limit = vehicle.engine.revLimit ?? Number.POSITIVE_INFINITY;
  if (speed > limit - NEAR_LIMIT) return false;
  // With the foot off, a gearbox shifts as softly as it likes: only power-on shifts show what the clutches can do.
  return power === 'on';
}

/** The foot stayed where it was. */
function still(pedal: number, low: number, high: number): boolean {
  return low >= 0.6 * pedal && high <= Math.max(1.6 * pedal, pedal + 15);
}

/** Shifts with the usual duration of their like: same direction and pedal band, power on; of all drives together. */
export function judgedShifts(
  drives: readonly { readonly input: number; readonly shifts: Shifts }[],
  vehicle: Vehicle,
): JudgedShift[] {
  const groups = new Map<string, JudgedShift[]>();
  for (const { input, shifts } of drives) {
    for (const event of shifts.events) {
      if (!judgeable(event, vehicle)) continue;
      const { pedal, flarePedal } = event;
      const steady = still(pedal, event.pedalLow, event.pedalHigh);
      const shows = event.kind === 'up' && still(pedal, flarePedal.low, flarePedal.high);
      if (!steady && !shows) continue;
      const band = pedal < 30 ? 'light' : pedal < 70 ? 'middle' : 'full';
      const key = `${event.kind} ${band}`;
      const group = groups.get(key) ?? [];
      const unknown = { normal: Number.NaN, usual: Number.NaN, usualFlare: Number.NaN };
      group.push({ ...event, input, steady, shows, shaft: shifts.shaft, ...unknown });
      groups.set(key, group);
    }
  }
  return [...groups.values()]
    .flatMap((group) => {
      const durations = group.filter(({ steady }) => steady).map(({ duration }) => duration);
      const usual = median(durations);
      const normal =
        durations.length < LIKE ? Number.NaN : Math.max(2 * usual, usual + 3 * madn(durations), usual + EXCESS);
      const usualFlare = median(group.filter(({ shows }) => shows).map(({ flare }) => flare));
      return group.map((shift) => ({ ...shift, usual, normal, usualFlare }));
    })
    .sort((a, b) => a.input - b.input || a.from - b.from);
}
