import type { Runs } from './run.js';

/** What a channel can physically do; in the unit of the values. */
export interface Physics {
  readonly min: number;
  readonly max: number;
  /** Fastest plausible change per second; Infinity when events may jump (knock retard, counters, states). */
  readonly rate: number;
  /** Values that stand for "no signal", when nothing leads up to them. */
  readonly sentinels: readonly number[];
}

export interface Removal {
  readonly count: number;
  /** Indices of the first and last sample removed; -1 when none. */
  readonly first: number;
  readonly last: number;
}

/** Samples after a step of cleaning: the array that was given when nothing was removed, else a changed copy. */
interface Cleaned {
  readonly values: Float64Array;
  readonly removed: Removal;
}

const NONE: Removal = { count: 0, first: -1, last: -1 };

/** No gauge of a car reads a thousand million: such numbers are markers, whatever the channel (checked before units). */
export const ABSURD = 1e9;

/** Share of the range by which a value may exceed it: sensor offset, negative speed near standstill. */
const MARGIN = 0.005;

/** Bit patterns that loggers write when nothing was answered; they count as sentinels only outside the range. */
const MARKERS: readonly number[] = [
  255, 65535, 65534, 65280, 32767, -32768, 32768, 16383.75, 4294967295, -1, -99, -999, -9999, 999, 9999, 99999, 999999,
];

/** True when a raw number is one of the bit patterns that stand for "not answered". */
export function isMarker(raw: number): boolean {
  return Math.abs(raw) >= ABSURD || MARKERS.includes(raw);
}

function boundsOf({ min, max }: Physics): { readonly low: number; readonly high: number } {
  const margin = Number.isFinite(max - min) ? MARGIN * (max - min) : 0;
  return { low: min - margin, high: max + margin };
}

/** Whether nothing of a channel with this least and greatest sample lies outside its plausible range; true without samples. */
export function isPlausible(least: number, greatest: number, physics: Physics): boolean {
  const { low, high } = boundsOf(physics);
  return !(least < low || greatest > high);
}

/**
 * Samples without those outside the plausible range (NaN in a copy; the same array when there are none). Raw numbers
 * that are bit patterns for "no answer" are counted as sentinels, all others as implausible. NaN stays NaN.
 * @param raw the same samples as written in the file, before unit conversion
 */
export function removeImplausible(
  values: Float64Array,
  raw: Float64Array,
  physics: Physics,
): { readonly values: Float64Array; readonly sentinel: Removal; readonly implausible: Removal } {
  const { low, high } = boundsOf(physics);
  let i = 0;
  // Nearly every column is clean: the copy is made only when it is needed.
  while (i < values.length && !(values[i]! < low || values[i]! > high)) i++;
  if (i === values.length) return { values, sentinel: NONE, implausible: NONE };
  const out = values.slice();
  const sentinel = new Tally();
  const implausible = new Tally();
  for (; i < out.length; i++) {
    const x = out[i]!;
    if (!(x < low || x > high)) continue;
    (isMarker(raw[i]!) || physics.sentinels.includes(x) ? sentinel : implausible).add(i);
    out[i] = Number.NaN;
  }
  return { values: out, sentinel: sentinel.done(), implausible: implausible.done() };
}

/**
 * Samples without stretches that sit exactly on a sentinel when no plausible change leads into or out of them (NaN in
 * a copy; the same array when there are none): 255 km/h reached through 253 and 254 is driving, 215 degC at once from 90 is a broken wire. A stretch that begins
 * or ends the recording is judged by its other side; one that is the whole recording is not judged here.
 * @param period seconds between fresh values; 0 when not known
 */
export function removeSentinels(
  values: Float64Array,
  time: Float64Array,
  physics: Physics,
  runs: Runs,
  period: number,
): Cleaned {
  if (physics.sentinels.length === 0 || !Number.isFinite(physics.rate)) return { values, removed: NONE };
  const tolerance = 1e-6 * Math.max(1, Math.abs(physics.max));
  const slack = dither(physics, runs);
  const ranges: number[] = [];
  for (const sentinel of physics.sentinels) {
    if (!(runs.min <= sentinel + tolerance && runs.max >= sentinel - tolerance)) continue;
    for (let k = 0; k < runs.count; k++) {
      const start = runs.starts[k]!;
      if (!(Math.abs(values[start]! - sentinel) <= tolerance)) continue;
      const end = k + 1 < runs.count ? runs.starts[k + 1]! : values.length;
      const before = previousSample(values, start);
      const after = nextSample(values, end - 1);
      if (before < 0 && after < 0) continue;
      const last = previousSample(values, end);
      if (before >= 0 && !isJump(values, time, before, start, physics.rate, period, slack)) continue;
      if (after >= 0 && !isJump(values, time, last, after, physics.rate, period, slack)) continue;
      ranges.push(start, end);
    }
  }
  return without(values, ranges);
}

/** A copy without the samples in `ranges` (from inclusive, to exclusive, one after the other). */
function without(values: Float64Array, ranges: readonly number[]): Cleaned {
  if (ranges.length === 0) return { values, removed: NONE };
  const out = values.slice();
  const removed = new Tally();
  for (let r = 0; r < ranges.length; r += 2) {
    for (let i = ranges[r]!; i < ranges[r + 1]!; i++) {
      if (Number.isNaN(out[i])) continue;
      removed.add(i);
      out[i] = Number.NaN;
    }
  }
  return { values: out, removed: removed.done() };
}

/** Steps of a sensor, and not of the thing measured: two of its quanta, a quantum being at most 1 % of the range. */
function dither(physics: Physics, runs: Runs): number {
  const span = physics.max - physics.min;
  return 2 * (Number.isFinite(span) ? Math.min(runs.quantum, 0.01 * span) : runs.quantum);
}

/** A step is a jump when it is faster than the channel can move, whole refresh period granted for a held value. */
function isJump(
  v: Float64Array,
  time: Float64Array,
  a: number,
  b: number,
  rate: number,
  period: number,
  slack: number,
): boolean {
  return Math.abs(v[b]! - v[a]!) > rate * Math.max(time[b]! - time[a]!, period) + slack;
}

function previousSample(values: Float64Array, index: number): number {
  for (let i = index - 1; i >= 0; i--) if (!Number.isNaN(values[i])) return i;
  return -1;
}

function nextSample(values: Float64Array, index: number): number {
  for (let i = index + 1; i < values.length; i++) if (!Number.isNaN(values[i])) return i;
  return -1;
}

/** More spikes than this share of the fresh values is the channel's own noise, not a fault of single samples. */
const SPIKE_SHARE = 0.01;
/** A spike stands out of the usual steps of a busy channel by this factor. */
const SPIKE_STEP = 6;
/** An excursion of 2 s is an event to the rules, however steep, so it stays (s). */
const LONGEST_SPIKE = 1.9;
/** A channel with fewer changes is slow; there physics alone decides. */
const BUSY = 50;

/**
 * Samples without isolated excursions (NaN in a copy; the same array when there are none): a short stretch that is entered and left by steps in opposite directions,
 * both faster than the channel can move and several times its usual step, and that comes back to where it began.
 * Short means two fresh values, or a tenth of the time the channel needs to cross its range, whichever is longer, but
 * below 2 s: what lasts is for the rules to judge. One fresh value is always short. A channel in which more than 1 % would go is left alone. NaN is stepped over.
 * @param period seconds between fresh values; 0 when not known
 */
export function removeSpikes(
  values: Float64Array,
  time: Float64Array,
  physics: Physics,
  runs: Runs,
  period: number,
): Cleaned {
  if (!Number.isFinite(physics.rate) || runs.count < 3) return { values, removed: NONE };
  const span = physics.max - physics.min;
  const short = Math.max(2.5 * period, Number.isFinite(span) ? (0.1 * span) / physics.rate : 0);
  const longest = Math.max(1.05 * period, Math.min(LONGEST_SPIKE, short));
  const slack = dither(physics, runs);
  const usual = runs.count >= BUSY ? SPIKE_STEP * runs.largeStep : 0;
  // No step is quicker than one fresh value: what is smaller need not be looked at.
  const least = Math.max(usual, physics.rate * period + slack);
  if (runs.greatestStep <= least) return { values, removed: NONE };
  const { starts, count } = runs;
  const found: number[] = [];
  let k = 1;
  while (k < count - 1) {
    const here = starts[k]!;
    const level = values[starts[k - 1]!]!;
    const up = values[here]! - level;
    if (Math.abs(up) <= least) {
      k++;
      continue;
    }
    const gap = Math.max(time[here]! - time[previousSample(values, here)]!, period);
    if (Math.abs(up) <= physics.rate * gap + slack) {
      k++;
      continue;
    }
    const exit = excursionEnd(values, time, runs, k, level, up, longest, physics.rate, period, slack);
    if (exit < 0) {
      k++;
      continue;
    }
    found.push(here, starts[exit]!);
    k = exit + 1;
  }
  if (found.length / 2 > Math.max(3, SPIKE_SHARE * count)) return { values, removed: NONE };
  return without(values, found);
}

/** Run at which the excursion that began with run `k` is over, or -1 when it does not come back in time. */
function excursionEnd(
  values: Float64Array,
  time: Float64Array,
  runs: Runs,
  k: number,
  level: number,
  up: number,
  longest: number,
  rate: number,
  period: number,
  slack: number,
): number {
  const begin = time[runs.starts[k]!]!;
  for (let j = k + 1; j < runs.count; j++) {
    const start = runs.starts[j]!;
    if (time[start]! - begin > longest + period * 0.01) return -1;
    const back = values[start]! - values[runs.starts[j - 1]!]!;
    const away = Math.abs(values[start]! - level);
    if (away > 0.3 * Math.abs(up)) continue;
    const gap = Math.max(time[start]! - time[previousSample(values, start)]!, period);
    return back * up < 0 && Math.abs(back) > rate * gap + slack ? j : -1;
  }
  return -1;
}

class Tally {
  private count = 0;
  private first = -1;
  private last = -1;

  add(index: number): void {
    if (this.first < 0 || index < this.first) this.first = index;
    if (index > this.last) this.last = index;
    this.count++;
  }

  done(): Removal {
    return this.count === 0 ? NONE : { count: this.count, first: this.first, last: this.last };
  }
}
