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
/** s for which the old gear must have been engaged: right after another shift the shaft may only pass its ratio by. */
const HELD = 0.5;
/** Shaft speed that near the limit (rpm) is held back by the limiter. */
const NEAR_LIMIT = 250;
/** rpm below which a shift on the way to standstill is a hand-over on slipping clutches. */
const SLOW = 900;

/** Shifts that show the gearbox and not the driver: no skipped gear, no chain of shifts, no limiter, no cold fluid. Others stay out, whatever they took. */
function judgeable({ power, skip, held, speed, fluid }: ShiftEvent, vehicle: Vehicle): boolean {
  if (skip || held < HELD || fluid < COLD || speed < SLOW) return false;
  const limit = vehicle.engine.revLimit ?? Number.POSITIVE_INFINITY;
  if (speed > limit - NEAR_LIMIT) return false;
  // With the foot off, a gearbox shifts as softly as it likes: only power-on shifts show what the clutches can do.
  return power === 'on';
}

/** The foot stayed where it was. */
function still(pedal: number, low: number, high: number): boolean {
  return low >= 0.6 * pedal && high <= Math.max(1.6 * pedal, pedal + 15);
}

/** Seconds that a hand takes for a shift, at the least, and shifts of which more than this share let the drive go. Common practice, no source. */
const BY_HAND = { seconds: 0.5, share: 0.7, shifts: 4 } as const;

/**
 * True when the driver's hand and foot seem to shift: half of the shifts take half a second and more, and in most of
 * those in which it could be seen the car lost its drive meanwhile. Gearboxes that shift by themselves under power do
 * one or the other, hardly both.
 */
export function shiftedByHand(judged: readonly JudgedShift[]): boolean {
  const seen = judged.filter(({ kind, driveLost }) => kind === 'up' && driveLost !== undefined);
  if (seen.length < BY_HAND.shifts) return false;
  const lost = seen.filter(({ driveLost }) => driveLost === true).length;
  return lost > BY_HAND.share * seen.length && median(seen.map(({ duration }) => duration)) >= BY_HAND.seconds;
}

/** Shifts are alike when they go the same way and the pedal (% of travel) differs by no more than this. */
const BAND = 15;
/** The nearest by pedal make the distribution: of a long recording no more than these. */
const NEAREST = 60;

/** Shifts with the usual duration of their like: same direction and about the same pedal, power on; of all drives together. */
export function judgedShifts(
  drives: readonly { readonly input: number; readonly shifts: Shifts }[],
  vehicle: Vehicle,
): JudgedShift[] {
  const chosen = drives.flatMap(({ input, shifts }) =>
    shifts.events.flatMap((event) => {
      if (!judgeable(event, vehicle)) return [];
      const { pedal, flarePedal } = event;
      const steady = still(pedal, event.pedalLow, event.pedalHigh);
      const shows = event.kind === 'up' && still(pedal, flarePedal.low, flarePedal.high);
      return steady || shows ? [{ ...event, input, steady, shows, shaft: shifts.shaft }] : [];
    }),
  );
  return (['up', 'down'] as const)
    .flatMap((kind) => withUsual(chosen.filter((shift) => shift.kind === kind)))
    .sort((a, b) => a.input - b.input || a.from - b.from);
}

type Chosen = Omit<JudgedShift, 'usual' | 'normal' | 'usualFlare'>;

function withUsual(chosen: readonly Chosen[]): JudgedShift[] {
  const byPedal = [...chosen].sort((a, b) => a.pedal - b.pedal || a.input - b.input || a.from - b.from);
  const steady = byPedal.filter((shift) => shift.steady);
  const flaring = byPedal.filter((shift) => shift.shows);
  return byPedal.map((shift) => {
    const durations = alike(steady, shift.pedal).map(({ duration }) => duration);
    const usual = median(durations);
    const normal =
      durations.length < LIKE ? Number.NaN : Math.max(2 * usual, usual + 3 * madn(durations), usual + EXCESS);
    return { ...shift, usual, normal, usualFlare: median(alike(flaring, shift.pedal).map(({ flare }) => flare)) };
  });
}

/** Those of a list in order of the pedal whose pedal is near, the nearest ones. */
function alike(sorted: readonly Chosen[], pedal: number): Chosen[] {
  let from = 0;
  let to = sorted.length;
  while (from < to && !(sorted[from]!.pedal >= pedal - BAND)) from++;
  while (to > from && !(sorted[to - 1]!.pedal <= pedal + BAND)) to--;
  while (to - from > NEAREST) {
    if (pedal - sorted[from]!.pedal > sorted[to - 1]!.pedal - pedal) from++;
    else to--;
  }
  return sorted.slice(from, to);
}
