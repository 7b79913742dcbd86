import { DRIVEN_SPEED } from './driven-speed.js';
import { type Drive, isRefusal, type Refusal, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

/** Shaft speed at its own fresh samples with the speed that the gearbox is geared to (driven wheels, else road). */
export interface Trace {
  /** Fresh shaft speeds per second. */
  readonly hz: number;
  /** What was measured from the last sample at or before `from` to the first one after `to` (s). */
  between(from: number, to: number): Stretch;
  /** Relative standard uncertainty of the ratio at a road speed, quanta only. */
  u(v: number): number;
}

/** One entry a fresh shaft speed; all arrays of one length. */
export interface Stretch {
  /** s */
  readonly time: Float64Array;
  /** Shaft speed, rpm. */
  readonly n: Float64Array;
  /** Road speed, km/h. */
  readonly road: Float64Array;
}

/** Speeds finer and faster than this (km/h, Hz) are interpolated; others are taken as a line over the shift. */
const FINE = 0.2;
const FAST = 9;

/** @param lag seconds by which the shaft speed runs ahead of the road speed */
export function traceOf(drive: Drive, shaft: string, lag: number): Trace | Refusal {
  const speed = drive.derive(DRIVEN_SPEED);
  if (isRefusal(speed)) return refuse(`no shifts: ${speed.reason}`, speed.missing);
  const samples = samplesOf(drive);
  const values = samples.held(shaft)!;
  const rows = samples.fresh(shaft);
  const interpolated = speed.quantum <= FINE && speed.hz >= FAST;
  const quantum = drive.channel(shaft)!.quality.quantum;
  const reach = 1 / speed.hz + 0.05;
  return {
    hz: samples.hz(shaft),
    u: (v) => Math.hypot(speed.quantum / v / Math.sqrt(12), quantum / 1000 / Math.sqrt(12)),
    between(from, to) {
      const first = Math.max(0, countUpTo(drive.time, rows, from) - 1);
      const end = Math.min(rows.length, countUpTo(drive.time, rows, to) + 1);
      const { time, values: n } = entriesOf(drive.time, values, rows, first, end, 0);
      const low = Math.max(0, countBefore(drive.time, speed.fresh, lag, time[0]! - reach) - 1);
      const high = countBefore(drive.time, speed.fresh, lag, time[time.length - 1]! + reach) + 1;
      // A line takes two.
      const last = Math.min(speed.fresh.length, interpolated ? Math.max(high, low + 2) : high);
      const road = entriesOf(drive.time, speed.values, speed.fresh, low, last, lag);
      return { time, n, road: interpolated ? linear(road, time) : fitted(road, time) };
    },
  };
}

interface Entries {
  /** s */
  readonly time: Float64Array;
  readonly values: Float64Array;
}

/** Entries from..end-1 of `rows`, each `early` seconds before its time. */
function entriesOf(
  time: Float64Array,
  values: Float64Array,
  rows: Int32Array,
  from: number,
  end: number,
  early: number,
): Entries {
  const count = Math.max(0, end - from);
  const found = { time: new Float64Array(count), values: new Float64Array(count) };
  for (let k = 0; k < count; k++) {
    const row = rows[from + k]!;
    found.time[k] = time[row]! - early;
    found.values[k] = values[row]!;
  }
  return found;
}

/** How many of the rows lie at or before time `t`. */
function countUpTo(time: Float64Array, rows: Int32Array, t: number): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[rows[middle]!]! <= t) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** How many of the rows, each `early` seconds before its time, lie before time `t`. */
function countBefore(time: Float64Array, rows: Int32Array, early: number, t: number): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[rows[middle]!]! - early < t) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Lines between the entries, drawn on beyond them; NaN with fewer than two. */
function linear({ time, values: v }: Entries, at: Float64Array): Float64Array {
  const found = new Float64Array(at.length);
  let j = 0;
  for (let k = 0; k < at.length; k++) {
    const t = at[k]!;
    while (j + 2 < time.length && time[j + 1]! < t) j++;
    const span = time[j + 1]! - time[j]!;
    found[k] = span > 0 ? v[j]! + ((v[j + 1]! - v[j]!) * (t - time[j]!)) / span : Number.NaN;
  }
  return found;
}

/** Least-squares line: a coarse speed is smooth in truth over the second that a shift takes. */
function fitted({ time, values: v }: Entries, at: Float64Array): Float64Array {
  let s = 0;
  let st = 0;
  let sv = 0;
  let stt = 0;
  let stv = 0;
  const origin = at[0]!;
  for (let k = 0; k < v.length; k++) {
    if (Number.isNaN(v[k]!)) continue;
    const t = time[k]! - origin;
    s++;
    st += t;
    sv += v[k]!;
    stt += t * t;
    stv += t * v[k]!;
  }
  const determinant = s * stt - st * st;
  if (!(determinant > 0)) return at.map(() => (s > 0 ? sv / s : Number.NaN));
  const slope = (s * stv - st * sv) / determinant;
  const level = (sv - slope * st) / s;
  return at.map((t) => level + slope * (t - origin));
}
