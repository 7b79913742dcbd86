import type { Channel } from '../../recording/recording.js';
import { abrupt, LEAST, REST, runsOf, told, type Windows } from './recording-windows.js';

/** A stretch whose values do not lie on the steps in which the column is written everywhere else. */
export interface OffSteps {
  readonly channel: string;
  readonly unit: string;
  /** Step of the column, in its unit. */
  readonly step: number;
  /** Seconds of recording time. */
  readonly from: number;
  readonly to: number;
  /** Share of the values in it that lie between two steps. */
  readonly share: number;
}

/** Different values of a window, and of all, before its steps are told. */
const DIFFERENT = 6;
/** Rows of a window that tell its steps as well as all of them. */
const ROWS = 100;
/** A value lies on a step to this share of it: rounding of a converted unit. */
const NEAR = 0.05;
/** Share between steps that a window of an edited stretch has at least, and any other one at most. */
const BETWEEN = 0.3;
const STRAY = 0.01;
/** Two values that lie closer than this many steps are neighbours. */
const ADJACENT = 1.5;
/** Steps that a column has at most from its lowest to its highest value: what has more is a computed number. */
const MOST = 20_000;

/**
 * NaN is no sample. A control unit writes a quantity in whole steps. Who multiplies or averages a stretch and does not
 * know them leaves values between: told where all other windows of 10 s keep to one grid.
 */
export function offSteps(channels: readonly Channel[], time: Float64Array, edges: Windows): readonly OffSteps[] {
  if (edges.length < LEAST + REST) return [];
  return channels.flatMap((channel): OffSteps[] => {
    if (channel.quality.constant) return [];
    const { values } = channel;
    if (!mayHaveSteps(values, edges)) return [];
    const windows = edges.map(([a, b]) => different(values, a, b));
    const step = stepOf(windows);
    if (step === undefined) return [];
    const [anchor, size] = step;
    if (rangeOf(windows) > MOST * size) return [];
    const share = Float64Array.from(windows, (own) => shareBetween(own, anchor, size));
    return runsOf(share, (x) => x >= BETWEEN).flatMap(([from, to]): OffSteps[] => {
      const outside = told(share.filter((_, w) => w < from - 1 || w > to));
      // Anything between steps elsewhere: the column has no grid of its own.
      if (outside.length < REST || outside.some((x) => x > STRAY)) return [];
      if (!abrupt(share, from, to, (x) => x <= STRAY)) return [];
      const known = union([...windows.slice(0, Math.max(0, from - 1)), ...windows.slice(to + 1)]);
      const between = betweenKnown(windows.slice(from, to), known, size);
      if (!(between >= BETWEEN)) return [];
      return [
        {
          channel: channel.id,
          unit: channel.unit,
          step: size,
          from: time[edges[from]![0]]!,
          to: time[edges[to - 1]![1] - 1]!,
          share: between,
        },
      ];
    });
  });
}

/** Share of the different values of a window that lie between two steps; NaN where they are too few. */
function shareBetween(own: Float64Array, anchor: number, size: number): number {
  if (own.length < DIFFERENT) return Number.NaN;
  let between = 0;
  for (let i = 0; i < own.length; i++) if (isBetween(own[i]!, anchor, size)) between++;
  return between / own.length;
}

/** NaN is not. Whether a value lies off the steps of size `size` from `anchor`. */
function isBetween(x: number, anchor: number, size: number): boolean {
  const k = (x - anchor) / size;
  return Math.abs(k - Math.round(k)) > NEAR;
}

/** Windows that tell the steps of a long recording as well as all of them. */
const SOME = 60;

/**
 * False where nothing can be off the steps: some windows tell the steps, and no window holds a value between them, or more
 * than half of all do, so that the column has none. A short recording is not asked.
 */
function mayHaveSteps(values: Float64Array, edges: Windows): boolean {
  const every = Math.floor(edges.length / SOME);
  if (every < 2) return true;
  const some = edges.filter((_, w) => w % every === 0).map(([a, b]) => different(values, a, b));
  const step = stepOf(some);
  if (step === undefined) return true;
  const [anchor, size] = step;
  if (rangeOf(some) > MOST * size) return false;
  const off = edges.filter(([from, to]) => someBetween(values, from, to, anchor, size)).length;
  return off > 0 && off <= edges.length / 2;
}

/** Whether a row lies off the steps; of many rows every n-th is looked at. */
function someBetween(values: Float64Array, from: number, to: number, anchor: number, size: number): boolean {
  const stride = Math.max(1, Math.floor((to - from) / ROWS));
  for (let i = from; i < to; i += stride) if (isBetween(values[i]!, anchor, size)) return true;
  return false;
}

function rangeOf(windows: readonly Float64Array[]): number {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const own of windows) {
    if (own.length === 0) continue;
    least = Math.min(least, own[0]!);
    most = Math.max(most, own[own.length - 1]!);
  }
  return most - least;
}

/** Different values of some windows, ascending. */
function union(windows: readonly Float64Array[]): Float64Array {
  return Float64Array.from(new Set(windows.flatMap((own) => [...own]))).sort();
}

/**
 * Share of the values that lie between two neighbouring steps which were both seen elsewhere: a step that is known to
 * three digits only would drift off the true ones far from its anchor. NaN where too few values have such neighbours.
 */
function betweenKnown(windows: readonly Float64Array[], known: Float64Array, size: number): number {
  let between = 0;
  let told = 0;
  let k = 0;
  for (const x of union(windows)) {
    while (k < known.length && known[k]! < x) k++;
    if (known[k] === x) {
      told++;
      continue;
    }
    const [below, above] = [known[k - 1] ?? Number.NaN, known[k] ?? Number.NaN];
    if (!(above - below < ADJACENT * size)) continue;
    told++;
    if (Math.min(x - below, above - x) > NEAR * size) between++;
  }
  return told >= DIFFERENT ? between / told : Number.NaN;
}

/** Different values of rows, ascending; of many rows every n-th. */
function different(values: Float64Array, from: number, to: number): Float64Array {
  const stride = Math.max(1, Math.floor((to - from) / ROWS));
  const own = new Float64Array(Math.ceil((to - from) / stride));
  for (let k = 0; k < own.length; k++) own[k] = values[from + k * stride]!;
  own.sort();
  let count = 0;
  for (let i = 0; i < own.length; i++) {
    const x = own[i]!;
    if (!Number.isNaN(x) && (count === 0 || x !== own[count - 1])) own[count++] = x;
  }
  return own.subarray(0, count);
}

/** A value on the grid and the step: the smallest distance within a window that most windows share. */
function stepOf(windows: readonly Float64Array[]): readonly [anchor: number, size: number] | undefined {
  const telling = windows.filter((own) => own.length >= DIFFERENT);
  if (telling.length < LEAST + REST) return undefined;
  const steps = Float64Array.from(telling, leastStep);
  const usual = steps.slice().sort()[steps.length >> 1]!;
  const near = (x: number): boolean => Math.abs(x - usual) <= NEAR * usual;
  const share = steps.filter(near).length / steps.length;
  return share >= 0.5 && usual > 0 ? [telling[steps.findIndex(near)]![0]!, usual] : undefined;
}

/** Smallest distance between values that ascend. */
function leastStep(values: Float64Array): number {
  let least = Number.POSITIVE_INFINITY;
  for (let i = 1; i < values.length; i++) least = Math.min(least, values[i]! - values[i - 1]!);
  return least;
}
