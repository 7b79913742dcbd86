import { uncertaintyOf } from '../../derived/exceeds.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { linearRegression } from '../../math/linear-regression.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** A target is still when it has not moved by more than this (deg) for this long (s). */
const STILL = 1;
const STILL_FOR = 1;
/** Seconds for which a deviation has to be held. */
export const HELD = 2;
/** Oil is thin enough for the phasers from here (degC), and pumped hard enough from here (rpm). */
const OIL_FROM = 60;
const SPEED_FROM = 1200;
/** Seconds of still target that it takes to clear a camshaft. */
export const ENOUGH = 20;
/** Tolerance of a cam sensor, half-width, deg of the crank; common practice. */
const TOLERANCE = 0.8;

export type CamSide = 'intake' | 'exhaust';

export interface CamReading {
  readonly side: CamSide;
  /** `bank1`, or '' on an engine with one. */
  readonly bank: string;
  /** Largest deviation held for two seconds, signed (actual - target), degrees. */
  readonly held: number;
  readonly at: number;
  /** Median deviation while the target is still. */
  readonly middle: number;
  readonly u: number;
  /** Seconds of still target with warm oil. */
  readonly seconds: number;
  /** Actual over target, as the degrees of two shafts differ: 1, 2, 0.5, negative when counted the other way. */
  readonly scale: number;
  readonly channel: Channel;
}

export interface CamObservation {
  readonly cams: readonly CamReading[];
  /** Stored offsets of the control unit, degrees. */
  readonly stored: readonly { readonly bank: string; readonly value: number; readonly channel: Channel }[];
  readonly oilKnown: boolean;
  readonly slow: number;
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly family: (
    id: 'intakeCamAngle' | 'intakeCamTarget' | 'exhaustCamAngle' | 'exhaustCamTarget' | 'camOffset',
  ) => readonly Channel[];
  readonly optional: (id: 'engineOilTemperature' | 'coolantTemperature' | 'engineSpeed') => Channel | undefined;
};

/** Every camshaft against its target. */
export function readCams(view: Reads): CamObservation | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const oil = samples.held('engineOilTemperature');
  const coolant = samples.held('coolantTemperature');
  const warmth = oil ?? coolant;
  const speed = samples.held('engineSpeed');
  const stored = view.family('camOffset').flatMap((channel) => {
    const value = median(channel.values);
    return Number.isNaN(value) ? [] : [{ bank: positionOf(channel.id), value, channel }];
  });
  const cams: CamReading[] = [];
  let slow = Number.NaN;
  for (const side of ['intake', 'exhaust'] as const) {
    const targets = view.family(`${side}CamTarget`);
    for (const channel of view.family(`${side}CamAngle`)) {
      const bank = positionOf(channel.id);
      const target = targets.find(({ id }) => positionOf(id) === bank) ?? targets[0];
      if (target === undefined || channel.quality.constant || channel.quality.samples < 10) continue;
      const { hz } = freshRate(channel);
      if (hz > 0 && hz * HELD < 2.8) {
        slow = hz;
        continue;
      }
      const actual = samples.held(channel.id)!;
      const wanted = samples.held(target.id)!;
      const reading = compared(view.time, actual, wanted, warmth, speed, samples.maxStep);
      if (reading === undefined) continue;
      const u = uncertaintyOf(channel, { tolerance: TOLERANCE });
      cams.push({ side, bank, u, channel, ...reading });
    }
  }
  if (cams.length === 0 && stored.length === 0) {
    const present = view.family('intakeCamAngle').length + view.family('exhaustCamAngle').length > 0;
    if (!Number.isNaN(slow))
      return refuse('the camshaft angle comes too slowly to see what was held for two seconds', {
        conditions: ['intakeCamAngle at >= 1.5 Hz'],
      });
    return present
      ? refuse('no camshaft moved beside a target with warm oil', {
          channels: ['intakeCamTarget'],
          conditions: ['warm driving at changing load'],
        })
      : refuse('no camshaft angle is recorded', { channels: ['intakeCamAngle', 'intakeCamTarget'] });
  }
  return { cams, stored, oilKnown: oil !== undefined, slow };
}

function positionOf(id: string): string {
  const dot = id.indexOf('.');
  return dot < 0 ? '' : id.slice(dot + 1);
}

function compared(
  time: Float64Array,
  actual: Float64Array,
  wanted: Float64Array,
  warmth: Float64Array | undefined,
  speed: Float64Array | undefined,
  maxStep: number,
): Pick<CamReading, 'held' | 'at' | 'middle' | 'seconds' | 'scale'> | undefined {
  const rows = time.length;
  const still = stillRows(wanted, time, maxStep);
  const counts = (i: number) =>
    still[i] === 1 &&
    (warmth === undefined || warmth[i]! >= OIL_FROM) &&
    (speed === undefined || speed[i]! >= SPEED_FROM) &&
    !Number.isNaN(actual[i]!);
  const x: number[] = [];
  const y: number[] = [];
  for (let i = 0; i < rows; i++) {
    if (!counts(i)) continue;
    x.push(wanted[i]!);
    y.push(actual[i]!);
  }
  if (x.length < 5) return undefined;
  const scale = scaleOf(x, y);
  const deviation = new Float64Array(rows).fill(Number.NaN);
  let seconds = 0;
  for (let i = 0; i < rows; i++) {
    if (!counts(i)) continue;
    deviation[i] = actual[i]! / scale - wanted[i]!;
    if (i > 0) seconds += Math.min(time[i]! - time[i - 1]!, maxStep);
  }
  const over = heldMaximum(deviation, time, HELD, maxStep);
  const under = heldMaximum(
    deviation.map((each) => -each),
    time,
    HELD,
    maxStep,
  );
  const late = under.value > over.value;
  const best = late ? under : over;
  if (best.index < 0) return undefined;
  return { held: late ? -under.value : over.value, at: time[best.index]!, middle: median(deviation), seconds, scale };
}

/** 1 where the target has been still for a second. */
function stillRows(wanted: Float64Array, time: Float64Array, maxStep: number): Uint8Array {
  const mask = new Uint8Array(wanted.length);
  let from = 0;
  let level = Number.NaN;
  for (let i = 0; i < wanted.length; i++) {
    const x = wanted[i]!;
    const gap = i > 0 && time[i]! - time[i - 1]! > maxStep;
    if (Number.isNaN(x)) {
      level = Number.NaN;
      continue;
    }
    if (gap || !(Math.abs(x - level) <= STILL)) {
      level = x;
      from = i;
    }
    if (time[i]! - time[from]! >= STILL_FOR) mask[i] = 1;
  }
  return mask;
}

/**
 * Degrees of the cam against degrees of the crank, or counted the other way: told only where actual follows target in a
 * straight line of that very slope; else 1.
 */
function scaleOf(wanted: readonly number[], actual: readonly number[]): number {
  if (!(madn(wanted) > 2)) return 1;
  const line = linearRegression(wanted, actual);
  for (const scale of [2, 0.5, -1, -2, -0.5])
    if (Math.abs(line.slope / scale - 1) < 0.1 && line.rSquared > 0.9) return scale;
  return 1;
}
