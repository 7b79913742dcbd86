import { linearRegression, slopeInterval } from '../math/linear-regression.js';
import { median } from '../math/quantile.js';
import { powerOf } from '../physics/torque.js';
import { ENGINE_TORQUE, type TorqueAgreement, type TorqueBasis } from './engine-torque.js';
import { GEAR_KNOWLEDGE } from './gear-knowledge.js';
import { SHIFTS } from './gear-shifts.js';
import { linedOf } from './lined.js';
import { LEARNED_RATIOS } from './ratio-clusters.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { ROAD_TORQUE } from './road-torque.js';
import { apart, PULLS, type Segment } from './segments.js';

/** One full-load stretch in one gear. */
export interface PullPower {
  readonly from: number;
  readonly to: number;
  /** Number of the gear, or of the learned ratio (1 = lowest gear seen); NaN when no gear is told. */
  readonly gear: number;
  /** kW at the crank: highest mean over {@link MEAN_OVER}. */
  readonly power: number;
  /** rpm at which. */
  readonly at: number;
  /** rpm at the end of the stretch. */
  readonly end: number;
  /** True when power had stopped rising with speed before the end: its peak is in the stretch. */
  readonly topped: boolean;
  /** Highest torque (N.m, crank) over the same time. */
  readonly torque: number;
  /** kW at the crank by road load alone, same moment; NaN when not told. */
  readonly road: number;
  /** kW at the driven wheels by road load, same moment; NaN when not told. */
  readonly wheel: number;
}

export interface PullPowers {
  readonly pulls: readonly PullPower[];
  /** Relative standard uncertainty that all pulls share. */
  readonly u: number;
  readonly basis: TorqueBasis;
  readonly agreements: readonly TorqueAgreement[];
  /** Assumptions in words. */
  readonly notes: readonly string[];
}

/** Seconds that a power has to be held to count. */
const MEAN_OVER = 0.4;
const SHORTEST = 1;
/** Seconds by which a stretch is led towards the shift that ends it, and share by which torque may move there. Our own choice. */
const BEFORE_SHIFT = 0.7;
const STANDS = 0.15;
/**
 * Share of the last speed from which a plateau is looked for, seconds before its end that are left out, values that it
 * takes, and fall of torque with speed (ln over ln). Torque curves bend downwards, so power has less than 0.7 of the
 * speed that is left to rise, a few per cent. Our own choice.
 */
const PLATEAU = { from: 0.93, lift: 0.15, least: 5, falls: 0.3 } as const;

export const PULL_POWER = recipe<PullPowers>({
  id: 'pullPower',
  about:
    'Engine power of each full-load stretch in one gear: reconciled torque x speed, highest mean over 0.4 s; road load and wheel power of the same moment beside it. Uncorrected: a boost-controlled engine makes up for the air.',
  compute(drive) {
    const torque = drive.derive(ENGINE_TORQUE);
    if (isRefusal(torque)) return refuse(`the power cannot be told: ${torque.reason}`, torque.missing);
    const pulls = drive.derive(PULLS);
    if (isRefusal(pulls)) return refuse(`the power cannot be told: ${pulls.reason}`, pulls.missing);
    const speed = linedOf(drive, 'engineSpeed');
    if (speed === undefined)
      return refuse('the power cannot be told, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const shifts = drive.derive(SHIFTS);
    const known = drive.derive(GEAR_KNOWLEDGE);
    const learned = drive.derive(LEARNED_RATIOS);
    const numbers = !isRefusal(known) ? known.gear : isRefusal(learned) ? undefined : learned.gear;
    const road = drive.derive(ROAD_TORQUE);
    const pieces = isRefusal(shifts)
      ? pulls
      : apart(pulls, shifts, drive.time, 0.2).map((piece) =>
          towardsShift(piece, pulls, torque.values, speed, drive.time),
        );
    const power = torque.values.map((each, i) => powerOf(each, speed[i]!));
    const found: PullPower[] = [];
    for (const piece of pieces) {
      if (piece.to - piece.from < SHORTEST) continue;
      const top = highest(power, drive.time, piece);
      if (top === undefined) continue;
      const gears = [...(numbers ?? []).slice(piece.start, piece.end + 1)].filter((g) => g >= 1);
      found.push({
        from: piece.from,
        to: piece.to,
        gear: gears.length === 0 ? Number.NaN : median(gears),
        power: top.value,
        at: speed[top.row]!,
        end: speed[piece.end]!,
        topped: stoppedRising(power, speed, drive.time, piece, top.value),
        torque: highest(torque.values, drive.time, piece)?.value ?? Number.NaN,
        road: isRefusal(road) ? Number.NaN : near(road.power, drive.time, piece, top.row),
        wheel: isRefusal(road) ? Number.NaN : near(road.wheelPower, drive.time, piece, top.row),
      });
    }
    return {
      pulls: found,
      u: torque.u,
      basis: torque.basis,
      agreements: torque.agreements,
      notes: isRefusal(road) ? [] : road.notes,
    };
  },
});

/**
 * The margin before a shift is for gear channels that are late. As long as speed rises and torque stands, the gear still
 * pulls: the last half second of a pull in a low gear is where its peak lies.
 */
function towardsShift(
  piece: Segment,
  pulls: readonly Segment[],
  torque: Float64Array,
  speed: Float64Array,
  time: Float64Array,
): Segment {
  const pull = pulls.find(({ start, end }) => start <= piece.start && end >= piece.end);
  if (pull === undefined) return piece;
  let end = piece.end;
  const stands = torque[end]!;
  while (end < pull.end) {
    const next = end + 1;
    if (time[next]! - piece.to > BEFORE_SHIFT + 1e-6 || !(speed[next]! > speed[end]!)) break;
    if (!(Math.abs(torque[next]! / stands - 1) <= STANDS)) break;
    end = next;
  }
  return { ...piece, end, to: time[end]! };
}

/**
 * Power over the last 8 % of the speed range rises by less than 3 %, or torque falls over the last 7 % by more than 0.3 as
 * much as speed rises, beyond its scatter: a peak, or a plateau of constant power. At constant torque it rises as much as speed.
 */
function stoppedRising(
  power: Float64Array,
  speed: Float64Array,
  time: Float64Array,
  { start, end }: Segment,
  top: number,
): boolean {
  const last = speed[end]!;
  const before: number[] = [];
  for (let i = start; i <= end; i++)
    if (speed[i]! >= 0.88 * last && speed[i]! <= 0.94 * last && !Number.isNaN(power[i]!)) before.push(power[i]!);
  if (before.length >= 2 && median(before) > 0.97 * top) return true;
  // The foot that leaves the pedal, or the next gear, is no peak.
  let stop = end;
  while (stop > start && time[stop]! > time[end]! - PLATEAU.lift) stop--;
  const x: number[] = [];
  const y: number[] = [];
  for (let i = start; i <= stop; i++) {
    if (!(speed[i]! >= PLATEAU.from * speed[stop]! && power[i]! > 0)) continue;
    x.push(Math.log(speed[i]!));
    y.push(Math.log(power[i]! / speed[i]!));
  }
  if (x.length < PLATEAU.least) return false;
  // ln of torque against ln of speed: 0 at constant torque, -1 at constant power.
  return slopeInterval(linearRegression(x, y), 0.9).high < -PLATEAU.falls;
}

/** Highest mean over {@link MEAN_OVER} inside a segment, and the row in its middle. */
function highest(
  values: Float64Array,
  time: Float64Array,
  { start, end }: Segment,
): { readonly value: number; readonly row: number } | undefined {
  let best: { value: number; row: number } | undefined;
  let low = start;
  let sum = 0;
  let count = 0;
  for (let i = start; i <= end; i++) {
    const x = values[i]!;
    if (!Number.isNaN(x)) {
      sum += x;
      count++;
    }
    while (time[i]! - time[low]! > MEAN_OVER) {
      const gone = values[low]!;
      if (!Number.isNaN(gone)) {
        sum -= gone;
        count--;
      }
      low++;
    }
    // A mean counts once it spans the time (or two samples of a slow log).
    if (count === 0 || (time[i]! - time[low]! < 0.6 * MEAN_OVER && !(low > start))) continue;
    const mean = sum / count;
    if (best === undefined || mean > best.value) best = { value: mean, row: (low + i) >> 1 };
  }
  return best;
}

/** Mean of the values within {@link MEAN_OVER} of a row; NaN when there are none. */
function near(values: Float64Array, time: Float64Array, { start, end }: Segment, row: number): number {
  let sum = 0;
  let count = 0;
  for (let i = start; i <= end; i++) {
    if (Math.abs(time[i]! - time[row]!) > MEAN_OVER / 2 || Number.isNaN(values[i]!)) continue;
    sum += values[i]!;
    count++;
  }
  return count === 0 ? Number.NaN : sum / count;
}
