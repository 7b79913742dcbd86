import type { Samples } from '../../derived/samples.js';
import { middleOf } from '../../math/evenly.js';
import { linearRegression } from '../../math/linear-regression.js';
import { median } from '../../math/quantile.js';

export const WHEELS = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'] as const;
export type Wheel = (typeof WHEELS)[number];
/** In the words of a sentence. */
export const WORDS: Readonly<Record<Wheel, string>> = {
  frontLeft: 'front left',
  frontRight: 'front right',
  rearLeft: 'rear left',
  rearRight: 'rear right',
};

export interface DropOut {
  readonly wheel: Wheel;
  readonly from: number;
  readonly to: number;
  /** km/h of the other wheels. */
  readonly speed: number;
}

/** km/h: a wheel that stands still below this has lost its signal while the others roll. */
const NOTHING = 0.5;
/** Speeds between which a weak sensor is told from the floor of a good one, km/h. */
const ROLLING = [3, 15] as const;
/** A drop-out lasts at least this long, s: brakes and bumps lock a wheel for less. */
const LASTS = 0.25;
/** Harder braking than this (m/s2) may lock a wheel. Common practice, no source. */
const LOCKS = -3;

/** Stretches in which one wheel reads nothing while all others roll at 3 to 15 km/h, with at least 2 fresh values. */
export function dropOutsOf(
  wheels: readonly Float64Array[],
  acceleration: Float64Array | undefined,
  time: Float64Array,
): DropOut[] {
  const found: DropOut[] = [];
  for (let w = 0; w < 4; w++) {
    const others = wheels.filter((_v, o) => o !== w) as [Float64Array, Float64Array, Float64Array];
    for (const [start, end] of lostRows(wheels[w]!, others, acceleration, time.length)) {
      const [from, to] = [time[start]!, time[end]!];
      if (to - from >= LASTS && end > start)
        found.push({ wheel: WHEELS[w]!, from, to, speed: median(others.map((values) => values[start]!)) });
    }
  }
  return found.sort((a, b) => a.from - b.from);
}

/** First and last rows of the stretches in which a wheel reads nothing while the others roll. */
function lostRows(
  own: Float64Array,
  [a, b, c]: readonly [Float64Array, Float64Array, Float64Array],
  acceleration: Float64Array | undefined,
  rows: number,
): [number, number][] {
  const found: [number, number][] = [];
  let start = -1;
  for (let i = 0; i <= rows; i++) {
    let lost = false;
    if (i < rows && own[i]! <= NOTHING) {
      const slowest = Math.min(a[i]!, b[i]!, c[i]!);
      lost = slowest >= ROLLING[0] && slowest <= ROLLING[1] && !((acceleration?.[i] ?? 0) < LOCKS);
    }
    if (lost && start < 0) start = i;
    if (!lost && start >= 0) {
      found.push([start, i - 1]);
      start = -1;
    }
  }
  return found;
}

/** Each wheel against the middle of the other three, % (median over the rows); NaN below 20 s of straight driving. */
export function deviationsOf(wheels: readonly Float64Array[], usable: Uint8Array, samples: Samples): number[] {
  const [fl, fr, rl, rr] = wheels as readonly [Float64Array, Float64Array, Float64Array, Float64Array];
  const lists = wheels.map(() => new Float64Array(usable.length));
  let count = 0;
  for (let i = 0; i < usable.length; i++) {
    if (usable[i] === 0) continue;
    const a = fl[i]!;
    const b = fr[i]!;
    const c = rl[i]!;
    const d = rr[i]!;
    lists[0]![count] = 100 * (a / middle(b, c, d) - 1);
    lists[1]![count] = 100 * (b / middle(a, c, d) - 1);
    lists[2]![count] = 100 * (c / middle(a, b, d) - 1);
    lists[3]![count] = 100 * (d / middle(a, b, c) - 1);
    count++;
  }
  return lists.map((list) => (count * samples.spacing >= 20 ? middleOf(list.subarray(0, count)) : Number.NaN));
}

export interface Stretch {
  readonly from: number;
  readonly to: number;
}

/** From the first to the last usable row, seconds of recording time; NaN without one. */
export function stretchOf(usable: Uint8Array, time: Float64Array): Stretch {
  const first = usable.indexOf(1);
  return first < 0 ? { from: Number.NaN, to: Number.NaN } : { from: time[first]!, to: time[usable.lastIndexOf(1)]! };
}

function middle(a: number, b: number, c: number): number {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
}

export interface Offset {
  /** deg at the steering wheel. */
  readonly value: number;
  readonly u: number;
  readonly samples: number;
}

/** Road crown asks for a little steering, deg at the wheel, standard uncertainty. Common practice, no source. */
const CROWN = 0.5;

/** Steering angle at no curvature: intercept of the angle on yaw rate / speed over straight rows; NaN below 20 s of them. */
export function steeringOffset(
  steering: Float64Array,
  yaw: Float64Array,
  rest: number,
  speed: Float64Array,
  usable: Uint8Array,
  samples: Samples,
): Offset {
  const x: number[] = [];
  const y: number[] = [];
  for (let i = 0; i < usable.length; i++) {
    if (usable[i] === 0 || !(speed[i]! >= 40)) continue;
    x.push((yaw[i]! - rest) / speed[i]!);
    y.push(steering[i]!);
  }
  if (x.length * samples.spacing < 20) return { value: Number.NaN, u: Number.NaN, samples: x.length };
  const line = linearRegression(x, y);
  const value = Number.isNaN(line.intercept) ? median(y) : line.intercept;
  // A second's rows share their error.
  const rows = Math.max(1, 1 / samples.spacing);
  const error = Number.isNaN(line.interceptError) ? 0.5 : line.interceptError * Math.sqrt(rows);
  return { value, u: Math.hypot(error, CROWN), samples: Math.floor(x.length / rows) };
}
