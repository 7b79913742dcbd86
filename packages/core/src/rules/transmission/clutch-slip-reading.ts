import { type ClutchSlip, LOWEST_GEAR } from '../../derived/clutch-slip.js';
import { middleOf } from '../../math/evenly.js';
import { valuesAt } from '../../math/gather.js';
import { movingMedian } from '../../math/moving-median.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { median, quantile } from '../../math/quantile.js';
import { rankOf, SEVERITIES } from '../ladder.js';
import type { Limit, Severity } from '../rule.js';

/** Seconds that a slip must last. */
export const LASTS = 1;
/** Half of the window (s) of the moving median that takes noise out; well below half of LASTS, so that plateaus keep their ends. */
const SMOOTHED = 0.3;
/** A repair takes this many events: one may be a patch of ice or a kerb. */
export const REPEATED = 2;
/** Slower than this many fresh values a second nothing can be told: shaft speeds, wheel speeds. */
export const RATES = { shafts: 3, wheels: 5 } as const;

export interface SlipEvent {
  readonly from: number;
  readonly to: number;
  readonly severity: Severity;
  /** % of the input speed, held for a second; rpm of the same sample. */
  readonly slip: number;
  readonly speed: number;
  readonly gear: number;
  readonly clutch: number;
  readonly samples: number;
  /** Standard uncertainty of `slip`, points. */
  readonly u: number;
}

export interface SlipReading {
  readonly events: readonly SlipEvent[];
  /** Highest slip under load held for a second (%), NaN when never loaded for one. */
  readonly slip: number;
  readonly u: number;
  /** Median slip at light load, %. */
  readonly light: number;
  /** Seconds settled under load, and at high load. */
  readonly loaded: number;
  readonly high: number;
  readonly samples: number;
  /** Seconds under load at a steady ratio between two gears that is neither, in stretches of STRAYS and more. */
  readonly stray: number;
  /** s of the first of them; NaN without one. */
  readonly strayAt: number;
}

/** Slip threshold in rpm at an input speed: the share, but no less than the speed where the limits name one. */
function threshold(limits: Readonly<Record<string, Limit>>, severity: Severity, input: number): number {
  const share = limits[severity];
  if (share === undefined) return Number.POSITIVE_INFINITY;
  return Math.max((share.value / 100) * input, limits[`${severity}-speed`]?.value ?? 0);
}

/**
 * Slip under load against the limits. NaN = not settled, breaks an event; noise is taken out by a moving median
 * of 0.6 s. An event is a stretch beyond the watch limit; its severity the highest limit held for a second.
 */
export function readSlip(
  data: ClutchSlip,
  time: Float64Array,
  loadedRows: Uint8Array,
  highRows: Uint8Array,
  lightRows: Uint8Array,
  limits: Readonly<Record<string, Limit>>,
): SlipReading {
  const interval = 1 / data.hz;
  const smooth = movingMedian(data.slip, Math.max(1, Math.round(SMOOTHED * data.hz)));
  const settled = { data, smooth };
  const at = valuesAt(time, data.row);
  const { share, lower, loaded, high, samples } = loadedOf(settled, loadedRows, highRows);
  const base = middleOf(lightOf(settled, lightRows));
  // Slip must rise with torque: what is there without load as well is a ratio or a sensor, not a clutch.
  const constant = constantGears(settled, share, lightRows, base);
  if (constant.size > 0) takeOff(constant, data, share, lower);
  const byLevel = new Map(
    SEVERITIES.map((severity) => [severity, segmentsOf(at, data.input, lower, limits, severity, interval)]),
  );
  const events = byLevel.get('watch')!.map(([start, end]): SlipEvent => {
    let severity: Severity = 'watch';
    for (const each of SEVERITIES)
      if (byLevel.get(each)!.some(([a, b]) => a >= start && b <= end) && rankOf(each) > rankOf(severity))
        severity = each;
    const slip = heldMaximum(share, at, start, end, interval);
    const us: number[] = [];
    for (let k = start; k <= end; k++) us.push((100 * data.u[k]!) / data.input[k]!);
    const gear = data.gear[start]!;
    return {
      from: at[start]!,
      to: at[end]!,
      severity,
      slip: slip.value,
      // Of the same sample as the share: one is the other times the input speed.
      speed: (slip.value / 100) * data.input[slip.index]!,
      gear,
      clutch: data.clutch.get(gear) ?? 0,
      samples: end - start + 1,
      u: median(us),
    };
  });
  const top = heldMaximum(share, at, 0, share.length - 1, interval);
  return {
    events: events.filter((event) => !(base > RISES * event.slip)),
    slip: top.value,
    u: top.index < 0 ? Number.NaN : (100 * data.u[top.index]!) / data.input[top.index]!,
    light: base,
    loaded,
    high,
    samples,
    ...strayOf(data, at, loadedRows, interval),
  };
}

/** Measurements with slip, and their moving median (rpm). */
interface Settled {
  readonly data: ClutchSlip;
  readonly smooth: Float64Array;
}

/** Slip (%) and its lower 95 % bound (rpm) under load, NaN elsewhere; seconds under load and at high load. */
function loadedOf(
  { data: { row, slip, gear, input, u, basis, hz }, smooth }: Settled,
  loadedRows: Uint8Array,
  highRows: Uint8Array,
): { share: Float64Array; lower: Float64Array; loaded: number; high: number; samples: number } {
  const share = new Float64Array(row.length).fill(Number.NaN);
  const lower = new Float64Array(row.length).fill(Number.NaN);
  const lowest = LOWEST_GEAR[basis];
  const interval = 1 / hz;
  let loaded = 0;
  let high = 0;
  let samples = 0;
  for (let k = 0; k < row.length; k++) {
    const i = row[k]!;
    if (loadedRows[i] !== 1 || Number.isNaN(slip[k]!) || gear[k]! < lowest) continue;
    loaded += interval;
    samples++;
    if (highRows[i] === 1) high += interval;
    share[k] = (100 * smooth[k]!) / input[k]!;
    lower[k] = smooth[k]! - ONE_SIDED_95 * u[k]!;
  }
  return { share, lower, loaded, high, samples };
}

/** Slip (%) at light load. */
function lightOf({ data: { row, slip, gear, input, basis }, smooth }: Settled, lightRows: Uint8Array): Float64Array {
  const light = new Float64Array(row.length);
  const lowest = LOWEST_GEAR[basis];
  let count = 0;
  for (let k = 0; k < row.length; k++)
    if (lightRows[row[k]!] === 1 && !Number.isNaN(slip[k]!) && !(gear[k]! < lowest))
      light[count++] = (100 * smooth[k]!) / input[k]!;
  return light.subarray(0, count);
}

function takeOff(
  constant: ReadonlyMap<number, number>,
  { gear, input }: ClutchSlip,
  share: Float64Array,
  lower: Float64Array,
): void {
  for (let k = 0; k < share.length; k++) {
    const always = constant.get(gear[k]!);
    if (always === undefined) continue;
    share[k]! -= always;
    lower[k]! -= (always / 100) * input[k]!;
  }
}

/** First and last measurements of stretches beyond a limit that last long enough. @param at s */
function segmentsOf(
  at: Float64Array,
  input: Float64Array,
  lower: Float64Array,
  limits: Readonly<Record<string, Limit>>,
  severity: Severity,
  interval: number,
): [number, number][] {
  const found: [number, number][] = [];
  let start = -1;
  for (let k = 0; k <= at.length; k++) {
    const beyond = k < at.length && lower[k]! > 0 && lower[k]! > threshold(limits, severity, input[k]!);
    const joined = start >= 0 && beyond && at[k]! - at[k - 1]! <= 3 * interval;
    if (start >= 0 && !joined) {
      if (at[k - 1]! - at[start]! >= LASTS - 1e-6 && k - start >= 3) found.push([start, k - 1]);
      start = -1;
    }
    if (beyond && start < 0) start = k;
  }
  return found;
}

/** Seconds that a stretch between two gears must last under load to be told. Common practice, no source. */
const STRAYS = 0.5;

function strayOf(
  data: ClutchSlip,
  at: Float64Array,
  loadedRows: Uint8Array,
  interval: number,
): { stray: number; strayAt: number } {
  let stray = 0;
  let strayAt = Number.NaN;
  let start = -1;
  for (let k = 0; k <= data.row.length; k++) {
    const here = k < data.row.length && data.stray[k] === 1 && loadedRows[data.row[k]!] === 1;
    if (start >= 0 && !(here && at[k]! - at[k - 1]! <= 3 * interval)) {
      const seconds = at[k - 1]! - at[start]! + interval;
      if (seconds >= STRAYS - 1e-6) {
        stray += seconds;
        if (Number.isNaN(strayAt)) strayAt = at[start]!;
      }
      start = -1;
    }
    if (here && start < 0) start = k;
  }
  return { stray, strayAt };
}

/** A difference of which this share is there at light load as well is no slip. Common practice, no source. */
const RISES = 0.5;
/** Measurements at light load that tell what a gear shows without torque. */
const LIGHT = 10;

/** Gears in which the difference hardly rises with load, as their ratio is not what it was taken for, and what it is without (%). */
function constantGears(
  { data, smooth }: Settled,
  share: Float64Array,
  lightRows: Uint8Array,
  base: number,
): Map<number, number> {
  const light = new Map<number, number[]>();
  const loaded = new Map<number, number[]>();
  for (let k = 0; k < share.length; k++) {
    if (!Number.isNaN(share[k]!)) addTo(loaded, data.gear[k]!, share[k]!);
    else if (lightRows[data.row[k]!] === 1 && !Number.isNaN(data.slip[k]!))
      addTo(light, data.gear[k]!, (100 * smooth[k]!) / data.input[k]!);
  }
  const found = new Map<number, number>();
  for (const [gear, values] of loaded) {
    const own = light.get(gear) ?? [];
    const without = own.length >= LIGHT ? middleOf(Float64Array.from(own)) : base;
    if (without > SHOWS && without > RISES * quantile(values, 0.95)) found.set(gear, without);
  }
  return found;
}

function addTo(lists: Map<number, number[]>, gear: number, value: number): void {
  const list = lists.get(gear);
  if (list === undefined) lists.set(gear, [value]);
  else list.push(value);
}

/** % of slip at light load that shows: design slip of clutches stays below it at usual speeds. Common practice, no source. */
const SHOWS = 2;

/** NaN breaks a window. Highest value held for a second: the maximum over windows of their minimum. */
function heldMaximum(
  values: Float64Array,
  at: Float64Array,
  start: number,
  end: number,
  interval: number,
): { value: number; index: number } {
  let best = Number.NaN;
  let index = -1;
  // Indices of a rising queue of minima (sliding-window minimum with a deque).
  const queue: number[] = [];
  let head = 0;
  let run = -1;
  for (let k = start; k <= end; k++) {
    if (Number.isNaN(values[k]!)) {
      run = -1;
      continue;
    }
    if (run < 0 || at[k]! - at[k - 1]! > 3 * interval) {
      run = k;
      queue.length = 0;
      head = 0;
    }
    while (queue.length > head && values[queue[queue.length - 1]!]! >= values[k]!) queue.pop();
    queue.push(k);
    // The last sample that still leaves a whole second to this one.
    let first = queue[head]!;
    while (queue.length > head + 1 && at[k]! - at[first + 1]! >= LASTS - 1e-6) first = queue[++head]!;
    if (at[k]! - at[run]! < LASTS - 1e-6) continue;
    const low = values[queue[head]!]!;
    if (!(best >= low)) {
      best = low;
      index = queue[head]!;
    }
  }
  return { value: best, index };
}
