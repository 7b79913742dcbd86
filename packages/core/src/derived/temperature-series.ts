import { gathered } from '../math/gather.js';
import { madn } from '../math/madn.js';
import { hampel, movingMedian } from '../math/moving-median.js';
import { median, quantileInPlace } from '../math/quantile.js';

/** A temperature of fluid, oil or coolant, cleaned: no empty cells, no range ends, no leaps of the wiring, no spikes. */
export interface FluidSeries {
  /** Seconds. */
  readonly time: Float64Array;
  /** degC */
  readonly value: Float64Array;
  /** Seconds for which each sample stands: up to the next one, never longer than `maxGap`. */
  readonly hold: Float64Array;
  /** Fresh values per second. */
  readonly hz: number;
  /** Two samples further apart than this (s) have a gap between them. */
  readonly maxGap: number;
  /** Standard deviation of one raw sample, K. */
  readonly noise: number;
  /** Fresh samples that one value of the series is the median of. */
  readonly smoothedOver: number;
  /** Seconds that were set aside because the reading leapt as no fluid can. */
  readonly setAside: number;
  /** Seconds at which the reading leapt as no fluid can and stayed there. */
  readonly leaps: readonly number[];
}

/** What the fluid at a place can do. */
export interface Inertia {
  /** Largest change within one second, K. */
  readonly leap: number;
  /** Largest change per second for longer, K/s. */
  readonly ramp: number;
  /** Ends of the sensor, degC: at and beyond them nothing is measured. Default: the one-byte range. */
  readonly range?: { readonly low: number; readonly high: number };
}

/** Ends of the one-byte temperature range (A - 40, SAE J1979 service 01): no fluid, a broken or shorted sensor. */
const RANGE = { low: -39.5, high: 214.5 };
/** A spike stands off its neighbours by more than this, K; smaller ones cannot move a verdict of 2 s and more. */
const SPIKE = 3;
/** What lasts shorter (s) cannot be an event; see `EVENT`. */
const SHORTEST = 2;
/** Samples closer together than half of this (s) are taken together. */
const DENSE = 0.1;
/** Differences that tell a spacing or a noise. */
const ENOUGH = 5000;
/** A gap this long (s) ends an event: what happened meanwhile is not known. */
const LONG_GAP = 60;

/** What {@link fluidSeries} gave for each array: several rules ask for the same fluid. */
const known = new WeakMap<Float64Array, Map<string, { readonly rows: Float64Array; readonly series: Series }>>();
type Series = FluidSeries | undefined;

/**
 * NaN is no sample; fewer than 3 usable samples give undefined.
 * @param rows seconds
 * @param hz fresh values per second, as far as known
 */
export function fluidSeries(values: Float64Array, rows: Float64Array, hz: number, inertia: Inertia): Series {
  const { leap, ramp, range = RANGE } = inertia;
  const key = [hz, leap, ramp, range.low, range.high].join(' ');
  const asked = known.get(values) ?? new Map();
  const before = asked.get(key);
  if (before?.rows === rows) return before.series;
  const series = cleanedSeries(values, rows, hz, inertia);
  known.set(values, asked.set(key, { rows, series }));
  return series;
}

function cleanedSeries(values: Float64Array, rows: Float64Array, hz: number, inertia: Inertia): Series {
  const usable = usableOf(values, rows, inertia.range ?? RANGE);
  if (usable.time.length < 3) return undefined;
  const raw = withoutLeaps(usable.time, usable.value, inertia);
  if (raw.time.length < 3) return undefined;
  const spacing = median(sparseDifferences(raw.time));
  const rate = Number.isFinite(hz) && hz > 0 ? Math.min(hz, 1 / spacing) : 1 / spacing;
  const maxGap = Math.max(1, 3 / rate);
  const { time, value: thinned } = blockMedians(raw.time, raw.value, Math.floor(DENSE / spacing + 1e-9), maxGap);
  const n = time.length;
  const step = n < raw.time.length ? median(sparseDifferences(time)) : spacing;
  const spikeHalf = Math.ceil(Math.max(0.5, 1 / rate) / step - 1e-9);
  const { cleaned, medians } = hampel(thinned, spikeHalf, 5, SPIKE);
  const half = Math.floor(0.5 / step + 1e-9);
  // Without spikes the medians over the same windows are known already.
  const smooth = cleaned === thinned && half === spikeHalf ? medians : undefined;
  const value = half > 0 ? (smooth ?? movingMedian(cleaned, half)) : cleaned;
  return {
    time,
    value,
    hold: holdsOf(time, maxGap, step),
    hz: rate,
    maxGap,
    noise: madn(sparseDifferences(raw.value)) / Math.SQRT2,
    smoothedOver: Math.max(1, Math.round((2 * half + 1) * step * rate)),
    setAside: raw.setAside,
    leaps: raw.leaps,
  };
}

/** Samples between the ends of the sensor; the same arrays when all are. */
function usableOf(
  values: Float64Array,
  rows: Float64Array,
  { low, high }: { readonly low: number; readonly high: number },
): { time: Float64Array; value: Float64Array } {
  let count = 0;
  for (let i = 0; i < values.length; i++) if (values[i]! > low && values[i]! < high) count++;
  if (count === values.length) return { time: rows, value: values };
  const time = new Float64Array(count);
  const value = new Float64Array(count);
  count = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (!(x > low && x < high)) continue;
    time[count] = rows[i]!;
    value[count++] = x;
  }
  return { time, value };
}

/** @param last s for which the last sample stands */
function holdsOf(time: Float64Array, maxGap: number, last: number): Float64Array {
  const hold = new Float64Array(time.length).fill(last);
  for (let i = 0; i + 1 < hold.length; i++) hold[i] = Math.min(maxGap, time[i + 1]! - time[i]!);
  return hold;
}

/** Differences of neighbours; of a long series those of evenly spread neighbours, which tell spacing and noise as well. */
function sparseDifferences(x: Float64Array): Float64Array {
  const every = Math.max(1, Math.floor(x.length / ENOUGH));
  const d = new Float64Array(Math.floor((x.length - 2) / every) + 1);
  for (let i = 0; i < d.length; i++) d[i] = x[i * every + 1]! - x[i * every]!;
  return d;
}

/**
 * Medians of up to `size` samples that follow one another without a gap, each at the time of its first sample: fluid
 * does not move within a tenth of a second, and what follows takes time by the sample. `size` below 2 changes nothing.
 */
function blockMedians(
  time: Float64Array,
  value: Float64Array,
  size: number,
  maxGap: number,
): { time: Float64Array; value: Float64Array } {
  if (size < 2) return { time, value };
  const times = new Float64Array(time.length);
  const values = new Float64Array(time.length);
  const block = new Float64Array(size);
  let n = 0;
  for (let i = 0; i < time.length; ) {
    times[n] = time[i]!;
    let count = 0;
    let same = true;
    do {
      block[count++] = value[i]!;
      same &&= value[i] === block[0];
      i++;
    } while (count < size && i < time.length && time[i]! - time[i - 1]! <= maxGap);
    values[n++] = same ? block[0]! : quantileInPlace(block.subarray(0, count), 0.5);
  }
  return { time: times.slice(0, n), value: values.slice(0, n) };
}

/**
 * Cuts the series where it leaps further than fluid can, and drops the pieces that are too short to be an event and
 * join neither neighbour: a loose connector. Longer ones stay in, and their beginnings are told as leaps.
 */
function withoutLeaps(
  time: Float64Array,
  value: Float64Array,
  { leap, ramp }: Inertia,
): { time: Float64Array; value: Float64Array; setAside: number; leaps: number[] } {
  const n = time.length;
  const reachable = (i: number, j: number): boolean => {
    const seconds = time[j]! - time[i]!;
    return Math.abs(value[j]! - value[i]!) <= leap + ramp * Math.max(0, seconds - 1);
  };
  const starts = [0];
  for (let i = 1; i < n; i++) if (!reachable(i - 1, i)) starts.push(i);
  if (starts.length === 1) return { time, value, setAside: 0, leaps: [] };
  const rows: number[] = [];
  const leaps: number[] = [];
  let setAside = 0;
  starts.forEach((start, k) => {
    const next = starts[k + 1] ?? n;
    const last = rows[rows.length - 1];
    const seconds = (time[next] ?? time[next - 1]!) - time[start]!;
    const joins = last !== undefined && reachable(last, start);
    if (!joins && seconds < SHORTEST) {
      setAside += seconds;
      return;
    }
    if (!joins && last !== undefined) leaps.push(time[start]!);
    for (let i = start; i < next; i++) rows.push(i);
  });
  return {
    time: gathered(time, rows),
    value: gathered(value, rows),
    setAside,
    leaps,
  };
}

/** One stay above a limit, from entering it until 5 K below. */
export interface Stay {
  readonly from: number;
  readonly to: number;
  readonly start: number;
  readonly end: number;
  readonly peak: number;
  readonly peakAt: number;
}

/** How the hysteresis of an event is set, and how long it has to last. */
export interface EventRule {
  /** s */
  readonly minDuration: number;
  /** K below the limit at which an event ends. */
  readonly leave: number;
  readonly minFresh: number;
}

/** Stays that hold at least one unbroken stretch of `rule.minDuration` at the limit. */
export function staysAbove(
  series: FluidSeries,
  beyond: (x: number) => boolean,
  limit: number,
  rule: EventRule,
): Stay[] {
  const { time, value } = series;
  const stays: Stay[] = [];
  let open: { start: number; end: number; proven: boolean } | undefined;
  let stretch = -1;
  // Fluid is slow: most readings repeat the last one, and the answer with it.
  let last = Number.NaN;
  let over = false;
  const close = (): void => {
    if (open?.proven) stays.push(stayOf(series, open.start, open.end));
    open = undefined;
    stretch = -1;
  };
  for (let i = 0; i < value.length; i++) {
    if (i > 0) {
      const apart = time[i]! - time[i - 1]!;
      if (apart > LONG_GAP) close();
      else if (apart > series.maxGap) stretch = -1;
    }
    if (value[i] !== last) {
      last = value[i]!;
      over = beyond(last);
    }
    if (over) {
      open ??= { start: i, end: i, proven: false };
      if (stretch < 0) stretch = i;
      open.end = i;
      if (lastsEnough(series, stretch, i, rule)) open.proven = true;
    } else {
      stretch = -1;
      if (open && value[i]! < limit - rule.leave) close();
    }
  }
  close();
  return stays;
}

/** Whether rows `start..end` last for `rule.minDuration` with enough fresh samples. */
function lastsEnough(series: FluidSeries, start: number, end: number, rule: EventRule): boolean {
  const seconds = series.time[end]! - series.time[start]! + series.hold[end]!;
  // A slow fluid may read the same for many fresh samples: they are counted by rate, not by change.
  const fresh = Math.min(end - start + 1, Math.round(seconds * series.hz));
  return seconds >= rule.minDuration - 1e-6 && fresh >= rule.minFresh;
}

/** Whether rows `start..end` hold an unbroken stretch beyond a level that lasts long enough. */
export function holdsStretch(
  series: FluidSeries,
  start: number,
  end: number,
  beyond: (x: number) => boolean,
  rule: EventRule,
): boolean {
  let stretch = -1;
  for (let i = start; i <= end; i++) {
    if (i > start && series.time[i]! - series.time[i - 1]! > series.maxGap) stretch = -1;
    if (!beyond(series.value[i]!)) stretch = -1;
    else {
      if (stretch < 0) stretch = i;
      if (lastsEnough(series, stretch, i, rule)) return true;
    }
  }
  return false;
}

function stayOf(series: FluidSeries, start: number, end: number): Stay {
  let top = start;
  for (let i = start + 1; i <= end; i++) if (series.value[i]! > series.value[top]!) top = i;
  const { time, value } = series;
  return { from: time[start]!, to: time[end]!, start, end, peak: value[top]!, peakAt: time[top]! };
}

/** Seconds for which `holds` is true; gaps are not counted. */
export function secondsWhere(series: FluidSeries, holds: (x: number) => boolean): number {
  const { value, hold } = series;
  let seconds = 0;
  let last = Number.NaN;
  let on = false;
  for (let i = 0; i < value.length; i++) {
    if (value[i] !== last) {
      last = value[i]!;
      on = holds(last);
    }
    if (on) seconds += hold[i]!;
  }
  return seconds;
}
