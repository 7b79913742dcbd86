import { lastAtOrBefore } from '../math/interpolate.js';
import { median } from '../math/quantile.js';
import { RATIO_MATCHING } from './gear-knowledge.js';
import { LEARNED_RATIOS, type LearnedRatios } from './ratio-clusters.js';
import { RATIO_SOURCE } from './ratio-samples.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { pedalBetween, type ShiftSurroundings, surroundingsOf } from './shift-surroundings.js';
import { type Stretch, type Trace, traceOf } from './shift-trace.js';

/** One change from a held gear to another held gear. */
export interface ShiftEvent extends ShiftSurroundings {
  /** s: the old gear was last held, the new one first held. */
  readonly from: number;
  readonly to: number;
  /** Gears by the gearbox's count where known (`numbered`), else the places of the learned ratios from the lowest gear. */
  readonly gearBefore: number;
  readonly gearAfter: number;
  readonly kind: 'up' | 'down';
  /** More than one gear at once. */
  readonly skip: boolean;
  /** s for which the old gear had been engaged; shortly after another shift it may be no gear but a ratio passed by. */
  readonly held: number;
  /** s from 10 % to 90 % of the change of ratio. */
  readonly duration: number;
  /** Standard uncertainty of the duration, s: crossings lie anywhere within a sample interval. */
  readonly durationU: number;
  /** rpm by which the shaft ran above the old ratio before it gave way (upshift), never below 0; NaN for a downshift. */
  readonly flare: number;
  /** Fresh samples that stood above half of flare or overshoot. */
  readonly flareHeld: number;
  /** Pedal (% of travel), lowest and highest from the start until the shaft stood half as far over; NaN = not recorded. */
  readonly flarePedal: { readonly low: number; readonly high: number };
  /** rpm by which it ran above the new ratio at the end of a downshift; NaN for an upshift. */
  readonly overshoot: number;
  /** Standard uncertainty of flare and overshoot, rpm. */
  readonly flareU: number;
  /** Shaft speed at the start, rpm. */
  readonly speed: number;
}

export interface Shifts {
  readonly events: readonly ShiftEvent[];
  /** Fresh shaft speeds per second. */
  readonly hz: number;
  readonly shaft: string;
  /** Gears are numbered by the gearbox's own count. */
  readonly numbered: boolean;
}

/** A change that takes longer (s) is none: the car rolled, or the gear was not told in between. */
const LONGEST = 3;

export const SHIFT_EVENTS = recipe<Shifts>({
  id: 'shiftEvents',
  about:
    'Shifts as events between two held gears: pair, kind, power on or off, 10-90 % of the change of ratio, flare, tie-up, torque taken back, load and fluid temperature.',
  compute(drive) {
    const learned = drive.derive(LEARNED_RATIOS);
    if (isRefusal(learned)) return refuse(`no shifts: ${learned.reason}`, learned.missing);
    const source = drive.derive(RATIO_SOURCE);
    if (isRefusal(source)) return source;
    const { shaft } = source;
    const numbers = numbersOf(drive, learned);
    const trace = traceOf(drive, shaft, learned.lag);
    if (isRefusal(trace)) return trace;
    const events: ShiftEvent[] = [];
    for (const change of changesOf(learned.gear, drive.time)) {
      const event = eventOf(drive, trace, learned, change);
      if (event === undefined) continue;
      const [before, after] = [numbers.of[change.before - 1]!, numbers.of[change.after - 1]!];
      const skip = Math.abs(after - before) > 1;
      const around = surroundingsOf(drive, event.from, event.to);
      events.push({ ...event, ...around, gearBefore: before, gearAfter: after, skip, held: change.held });
    }
    return { events, hz: samplesOf(drive).hz(shaft), shaft, numbered: numbers.known };
  },
});

/** One gear follows another. */
interface Change {
  /** s: the old gear was last held, the new one first held. */
  readonly from: number;
  readonly to: number;
  /** 1.. */
  readonly before: number;
  readonly after: number;
  /** s for which the old gear had been engaged. */
  readonly held: number;
}

/** @param gear row by row, 1..n; NaN = none held */
function changesOf(gear: Float64Array, time: Float64Array): Change[] {
  const found: Change[] = [];
  let last = Number.NaN;
  let at = -1;
  let since = 0;
  for (let i = 0; i < gear.length; i++) {
    const g = gear[i]!;
    if (!(g >= 1)) continue;
    if (g !== last) {
      if (at >= 0 && time[i]! - time[at]! <= LONGEST)
        found.push({ from: time[at]!, to: time[i]!, before: last, after: g, held: time[at]! - since });
      since = time[i]!;
    }
    last = g;
    at = i;
  }
  return found;
}

function numbersOf(drive: Drive, learned: LearnedRatios): { readonly of: readonly number[]; readonly known: boolean } {
  const matching = drive.derive(RATIO_MATCHING);
  const of = learned.ratios.map(({ number }, k) => {
    if (number >= 1) return number;
    return isRefusal(matching) ? Number.NaN : (matching.matches.find(({ index }) => index === k)?.gear ?? Number.NaN);
  });
  const known = of.every((number) => number >= 1);
  return { of: known ? of : learned.ratios.map((_, k) => k + 1), known };
}

type Measured = Omit<ShiftEvent, keyof ShiftSurroundings | 'gearBefore' | 'gearAfter' | 'skip' | 'held'>;

/** Seconds before and after the change that show the ratios held there. */
const AROUND = 0.6;

function eventOf(
  drive: Drive,
  trace: Trace,
  learned: LearnedRatios,
  { from, to, before, after }: Change,
): Measured | undefined {
  const stretch = trace.between(from - AROUND, to + AROUND);
  const { time, n, road } = stretch;
  if (time.length < 4) return undefined;
  const ratio = quotient(n, road);
  // A wheel that locks or spins says nothing of the road: no shift takes half the speed away.
  if (!ratio.every(Number.isFinite) || !(lowest(road) > 0.6 * highest(road))) return undefined;
  const old = heldRatio(time, ratio, from - AROUND, from, learned.ratios[before - 1]!.value);
  const fresh = heldRatio(time, ratio, to, to + AROUND, learned.ratios[after - 1]!.value);
  const change = crossingsOf(time, ratio, old, fresh, from);
  if (change === undefined) return undefined;
  const { t10, t90 } = change;
  const up = fresh < old;
  const ran = up ? ranOver(stretch, ratio, old, from - 0.3, t10) : ranOver(stretch, ratio, fresh, t90, to + 0.5);
  const interval = 1 / trace.hz;
  const noise = trace.u(road[0]!) * old * road[0]!;
  return {
    from,
    to,
    kind: up ? 'up' : 'down',
    duration: t90 - t10,
    durationU: (0.41 * interval) / Math.sqrt(2),
    flare: up ? ran.above : Number.NaN,
    flareHeld: ran.held,
    flarePedal: pedalBetween(drive, from, ran.half),
    overshoot: up ? Number.NaN : ran.above,
    flareU: Math.hypot(noise, ran.u, SENSED),
    speed: n[Math.max(0, lastAtOrBefore(time, from))]!,
  };
}

function quotient(n: Float64Array, road: Float64Array): Float64Array {
  const found = new Float64Array(n.length);
  for (let k = 0; k < found.length; k++) found[k] = n[k]! / road[k]!;
  return found;
}

/** Seconds at which 10 % and 90 % of the change of ratio were done, from the first crossing of 90 % back to the last stay below 10 % before it. */
function crossingsOf(
  time: Float64Array,
  ratio: Float64Array,
  old: number,
  fresh: number,
  from: number,
): { readonly t10: number; readonly t90: number } | undefined {
  const progress = ratio.map((r) => (r - old) / (fresh - old));
  let high = 1;
  while (high < progress.length && !(progress[high]! >= 0.9 && time[high]! > from - 0.2)) high++;
  if (high >= progress.length) return undefined;
  let low = high - 1;
  while (low > 0 && progress[low]! > 0.1) low--;
  return { t90: crossing(time, progress, high, 0.9), t10: crossing(time, progress, low + 1, 0.1) };
}

/** Noise of two speeds and what is left of their lag, rpm. Common practice, no source. */
const SENSED = 10;

interface RanOver {
  /** rpm, never below 0, and its standard uncertainty by the sampling alone. */
  readonly above: number;
  readonly u: number;
  /** Samples above half of the highest one. */
  readonly held: number;
  /** s: it first stood there. */
  readonly half: number;
}

/** Furthest that the shaft ran above a ratio in a stretch of time. */
function ranOver({ time: when, road }: Stretch, ratio: Float64Array, level: number, from: number, to: number): RanOver {
  const over = ratio.map((r, k) => (r - level) * road[k]!);
  const inside = (k: number): boolean => when[k]! >= from && when[k]! <= to;
  let top = -1;
  for (let k = 0; k < over.length; k++) if (inside(k) && (top < 0 || over[k]! > over[top]!)) top = k;
  if (top < 0 || !(over[top]! > 0)) return { above: 0, u: 0, held: 0, half: to };
  const stands = (k: number): boolean => inside(k) && over[k]! >= over[top]! / 2;
  let held = 0;
  let half = to;
  for (let k = over.length - 1; k >= 0; k--) {
    if (!stands(k)) continue;
    held++;
    half = when[k]!;
  }
  return { ...peakBetween(when, over, top), held, half };
}

/**
 * The highest sample is rarely the peak: that lies between it and the point where the lines of rise and fall meet,
 * and, as clutches let go and grip suddenly, more likely near that point: a right-angled triangular distribution (mean at
 * two thirds, variance a 18th of the width squared; JCGM 100, 4.3.9, and Evans et al., Statistical Distributions).
 */
function peakBetween(time: Float64Array, over: Float64Array, top: number): { above: number; u: number } {
  const highest = over[top]!;
  const points = [meeting(time, over, top), meeting(time, over, top - 1)].filter(Number.isFinite);
  const width = Math.max(0, Math.min(Math.max(...points) - highest, highest));
  return { above: highest + (2 * width) / 3, u: width / Math.sqrt(18) };
}

/** Where the line through the two samples up to k and the line through the two after it meet, when that lies between k and k + 1. */
function meeting(time: Float64Array, over: Float64Array, k: number): number {
  if (k < 1 || k + 2 >= over.length) return Number.NaN;
  const rise = (over[k]! - over[k - 1]!) / (time[k]! - time[k - 1]!);
  const fall = (over[k + 2]! - over[k + 1]!) / (time[k + 2]! - time[k + 1]!);
  const after = (over[k + 1]! - over[k]! - fall * (time[k + 1]! - time[k]!)) / (rise - fall);
  return after >= 0 && after <= time[k + 1]! - time[k]! && rise > 0 && fall < 0 ? over[k]! + rise * after : Number.NaN;
}

function lowest(values: Float64Array): number {
  return values.reduce((a, b) => Math.min(a, b));
}

function highest(values: Float64Array): number {
  return values.reduce((a, b) => Math.max(a, b));
}

/** Ratio held in a stretch; the learned one where the stretch holds too few samples or another ratio. */
function heldRatio(time: Float64Array, ratio: Float64Array, from: number, to: number, learned: number): number {
  const inside: number[] = [];
  for (let k = 0; k < ratio.length; k++) {
    const t = time[k]!;
    if (t >= from && t <= to && Math.abs(ratio[k]! / learned - 1) < 0.06) inside.push(ratio[k]!);
  }
  return inside.length >= 3 ? median(inside) : learned;
}

function crossing(time: Float64Array, progress: Float64Array, k: number, level: number): number {
  const [p0, p1] = [progress[k - 1]!, progress[k]!];
  const [t0, t1] = [time[k - 1]!, time[k]!];
  const share = p1 > p0 ? (level - p0) / (p1 - p0) : 1;
  return t0 + Math.max(0, Math.min(1, share)) * (t1 - t0);
}
