import { isRefusal, type Refusal, refuse } from '../derived/recipe.js';
import { heldMaximum } from '../math/held-maximum.js';
import { median } from '../math/quantile.js';
import type { PullTrace, TraceSignal } from './pull.js';

/** What one pull gave for one measure. */
export interface Reading {
  readonly value: number;
  /** Standard uncertainty, same unit. */
  readonly u: number;
  /** Seconds of recording time and rpm at which; NaN for a mean. */
  readonly at: number;
  readonly speed: number;
  /** Cylinder or bank that it belongs to; empty for the whole engine or a mean of all. */
  readonly member: string;
  /** The sensor stood at the end of its range: the value is a bound. */
  readonly clipped: boolean;
}

/** How rows become one number of a pull. */
export type Statistic =
  /** Highest value held for `seconds`, of any member. */
  | { readonly kind: 'highest'; readonly seconds: number }
  | { readonly kind: 'lowest'; readonly seconds: number }
  /** Mean over time, of all members together. */
  | { readonly kind: 'mean' }
  | { readonly kind: 'median' }
  /** Highest less first value. */
  | { readonly kind: 'rise' }
  /** Share of the time, from a second on, in which the value is more than `by` below that of the second second, %. */
  | { readonly kind: 'share-below-start'; readonly by: number };

/** Longest step of time (s) over which a value counts as held. */
const MAX_STEP = 1;
/** Fresh samples that a held value needs, so that one stray sample is none. */
const FRESH = 2;

/** Range of engine speed, rpm; rows outside are left out. */
export interface Range {
  readonly low: number;
  readonly high: number;
}

/** One number of a pull, over all of it or over a range of engine speed; a refusal when the pull cannot give it. */
export function readPull(pull: PullTrace, quantity: string, statistic: Statistic, range?: Range): Reading | Refusal {
  const signals = pull.signals.get(quantity);
  if (signals === undefined) return refuse(`${quantity} is not measured`, {});
  if (isRefusal(signals)) return signals;
  const inside = signals.map((each) => within(each, pull, range));
  const readings = inside.map((each) => one(each, pull, statistic)).filter((each) => each !== undefined);
  if (readings.length === 0) return refuse(nothing(statistic), {});
  if (statistic.kind === 'highest' || statistic.kind === 'lowest') {
    const sign = statistic.kind === 'highest' ? 1 : -1;
    return readings.reduce((best, each) => (sign * each.value > sign * best.value ? each : best));
  }
  if (readings.length === 1) return readings[0]!;
  const value = readings.reduce((sum, each) => sum + each.value, 0) / readings.length;
  const u = Math.sqrt(readings.reduce((sum, each) => sum + each.u ** 2, 0)) / readings.length;
  return { value, u, at: Number.NaN, speed: Number.NaN, member: '', clipped: readings.some(({ clipped }) => clipped) };
}

function nothing(statistic: Statistic): string {
  if (statistic.kind === 'highest' || statistic.kind === 'lowest')
    return statistic.seconds > 0
      ? `no pull shows it for ${statistic.seconds} s on end`
      : 'no sample in the pull counts';
  return 'no sample in the pull counts';
}

function within(signal: TraceSignal, { speed }: PullTrace, range: Range | undefined): TraceSignal {
  if (range === undefined) return signal;
  const values = signal.values.map((x, i) => (speed[i]! >= range.low && speed[i]! <= range.high ? x : Number.NaN));
  return { ...signal, values };
}

function one(signal: TraceSignal, { time, speed }: PullTrace, statistic: Statistic): Reading | undefined {
  const { values, member, clipped } = signal;
  const make = (value: number, row: number): Reading | undefined =>
    Number.isNaN(value)
      ? undefined
      : {
          value,
          u: signal.relative ? Math.abs(value) * signal.u : signal.u,
          at: row < 0 ? Number.NaN : time[row]!,
          speed: row < 0 ? Number.NaN : speed[row]!,
          member,
          clipped,
        };
  switch (statistic.kind) {
    case 'highest':
    case 'lowest': {
      const sign = statistic.kind === 'highest' ? 1 : -1;
      // A value that stood for one sample alone counts with the seconds of a slow log.
      const seconds = statistic.seconds === 0 ? 0 : Math.max(statistic.seconds, (FRESH - 1) / signal.hz);
      const found = heldMaximum(sign < 0 ? values.map((x) => -x) : values, time, seconds - 1e-9, MAX_STEP);
      return make(sign * found.value, found.index);
    }
    case 'mean':
      return make(meanOverTime(values, time), -1);
    case 'median':
      return make(median(values), -1);
    case 'rise': {
      const first = values.findIndex((x) => !Number.isNaN(x));
      const top = heldMaximum(values, time, 0, MAX_STEP);
      return first < 0 ? undefined : make(top.value - values[first]!, top.index);
    }
    case 'share-below-start': {
      // By then the target has left that of part load.
      const [begun, based] = [rowAt(time, SETTLES), rowAt(time, 2 * SETTLES)];
      const first = median(values.slice(begun, based));
      const later = values.map((x, i) => (i < begun ? Number.NaN : x));
      const known = secondsWhere(later, time, () => true);
      if (!(known > 0) || Number.isNaN(first)) return undefined;
      return make((100 * secondsWhere(later, time, (x) => x < first - statistic.by)) / known, -1);
    }
  }
}

/** Seconds of a pull after which a target is that of full load. */
const SETTLES = 1;

/** First row that many seconds after the beginning. */
function rowAt(time: Float64Array, seconds: number): number {
  let k = 0;
  while (k < time.length && time[k]! - time[0]! < seconds) k++;
  return k;
}

/** NaN rows do not count; none gives NaN. Each row weighs the time to its neighbours. */
function meanOverTime(values: Float64Array, time: Float64Array): number {
  let sum = 0;
  let weight = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i]!)) continue;
    const before = i > 0 ? Math.min(MAX_STEP, time[i]! - time[i - 1]!) : 0;
    const after = i + 1 < time.length ? Math.min(MAX_STEP, time[i + 1]! - time[i]!) : 0;
    sum += values[i]! * (before + after);
    weight += before + after;
  }
  return weight > 0 ? sum / weight : Number.NaN;
}

function secondsWhere(values: Float64Array, time: Float64Array, holds: (x: number) => boolean): number {
  let sum = 0;
  for (let i = 0; i + 1 < values.length; i++)
    if (!Number.isNaN(values[i]!) && holds(values[i]!)) sum += Math.min(MAX_STEP, time[i + 1]! - time[i]!);
  return sum;
}
