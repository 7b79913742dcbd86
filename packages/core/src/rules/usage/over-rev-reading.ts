import { exceeds } from '../../derived/exceeds.js';
import type { PedalRelative } from '../../derived/pedal-relative.js';
import type { PedalReleased } from '../../derived/pedal-released.js';
import { freshIndices } from '../../derived/refresh.js';
import type { Speed } from '../../derived/speed.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit, Severity } from '../rule.js';

/** Pedal that is released, % of travel (rule catalogue). */
const RELEASED = 5;
/** What the engine was doing: driven by its own fuel, pushed by the wheels, or not to be told. */
export type Drive = 'pedal' | 'wheels' | 'unknown';

/** Engine speed beyond the limit without a break. */
export interface OverRev {
  readonly from: number;
  readonly to: number;
  readonly by: Drive;
  /** Highest engine speed that two fresh samples in a row reached, rpm, and when. */
  readonly peak: number;
  readonly peakAt: number;
  readonly severity: Severity | undefined;
  /** Name of the highest limit that it surely passed. */
  readonly passed: string | undefined;
  /** Within its uncertainty of a limit that it does not surely pass. */
  readonly near: boolean;
  readonly samples: number;
}

export interface OverRevReading {
  readonly events: readonly OverRev[];
  /** rpm, standard. */
  readonly uncertainty: number;
  readonly hz: number;
  /** Highest engine speed of two fresh samples in a row, rpm; NaN without two. */
  readonly top: number;
  readonly topAt: number;
  /** Single samples far beyond the limit in a log too slow to tell a spike from an over-rev. */
  readonly lone: number;
  /** Readings set aside: no wheels push the engine of a standing car. */
  readonly setAside: number;
}

/** Fresh samples that an over-rev needs (rule catalogue), and seconds in a faster log: the car's mass does not let go sooner. */
const FRESH = 2;
const LEAST = 0.15;
/** An engine without fuel is below its limit again after this long (s), so that what is left is pushed. Common practice. */
const COASTS = 0.3;
/** km/h below which wheels cannot push an engine to its limit. */
const PUSHES = 10;
/** A limiter that lets go and catches again within this many seconds is one contact. */
const CONTACT = 1;
/** Share of the rev limit by which the wheels have to bring the engine further than the pedal did. Common practice. */
const SAME = 0.005;
/** Limits by who drives the engine, rising, with what lies beyond each. */
const LADDERS: Readonly<Record<'wheels' | 'others', readonly (readonly [limit: string, severity: Severity])[]>> = {
  wheels: [
    ['repair', 'repair'],
    ['stop', 'stop'],
  ],
  others: [
    ['watch', 'watch'],
    ['far', 'repair'],
  ],
};

export interface OverRevInputs {
  readonly speed: Channel;
  readonly time: Float64Array;
  readonly hz: number;
  readonly pedal: PedalRelative | undefined;
  /** What stands in for a pedal that is not recorded. */
  readonly released: PedalReleased | undefined;
  readonly road: Speed | undefined;
  readonly revLimit: number;
  readonly uncertainty: number;
  readonly limits: Readonly<Record<string, Limit>>;
}

/** Fewer than two fresh samples show nothing. */
export function readOverRev(inputs: OverRevInputs): OverRevReading {
  const { time, hz, revLimit, uncertainty } = inputs;
  const rows = freshIndices(inputs.speed.values, time, hz);
  const n = rows.length;
  const value = new Float64Array(n);
  for (let k = 0; k < n; k++) value[k] = inputs.speed.values[rows[k]!]!;
  const at = new Float64Array(n);
  for (let k = 0; k < n; k++) at[k] = time[rows[k]!]!;
  const maxGap = Math.max(1, 3 / hz);
  const kinds = drives(inputs, rows, maxGap);
  const events: OverRev[] = [];
  let [top, topAt, lone, setAside] = [Number.NaN, Number.NaN, 0, 0];
  for (let k = 0; k + 1 < n; k++) {
    const both = Math.min(value[k]!, value[k + 1]!);
    if (at[k + 1]! - at[k]! <= maxGap && !(both <= top)) [top, topAt] = [both, at[k]!];
  }
  const low = Math.min(inputs.limits.watch!.value, inputs.limits.repair!.value);
  let start = -1;
  for (let k = 0; k <= n; k++) {
    const over = k < n && value[k]! > revLimit;
    const joined = start >= 0 && over && at[k]! - at[k - 1]! <= maxGap && kinds[k] === kinds[start];
    if (start >= 0 && !joined) {
      const end = k - 1;
      const far = Math.max(...value.subarray(start, end + 1)) > revLimit * (1 + low / 100) + 2 * uncertainty;
      if (kinds[start] === undefined) setAside += far ? 1 : 0;
      else if (end === start) lone += far && kinds[start] !== 'pedal' ? 1 : 0;
      else {
        const event = eventOf(inputs, value, at, start, end, kinds[start]!, 1 / hz);
        events.push(isTail(event, events[events.length - 1], maxGap, revLimit) ? tailOf(event) : event);
      }
      start = -1;
    }
    if (over && start < 0) start = k;
  }
  return { events, uncertainty, hz, top, topAt, lone, setAside };
}

/** Who drives the engine at each fresh sample; undefined where a standing car has its foot off: nobody can. */
function drives(inputs: OverRevInputs, rows: Int32Array, maxGap: number): (Drive | undefined)[] {
  const { pedal, released, road, time, hz } = inputs;
  // The reading may be one interval old, and the foot is quicker than the crankshaft.
  const coasts = COASTS + 1 / hz;
  const kinds: (Drive | undefined)[] = [];
  let row = 0;
  let pressed = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < rows.length; k++) {
    for (; row <= rows[k]!; row++) {
      const foot = pedal?.values[row] ?? Number.NaN;
      const isPressed = pedal !== undefined ? !(foot <= RELEASED) : released !== undefined && released.mask[row] === 0;
      const gap = row === 0 || time[row]! - time[row - 1]! > maxGap;
      if (isPressed || gap) pressed = time[row]!;
    }
    const i = rows[k]!;
    if (pedal === undefined && !released?.certain) kinds.push('unknown');
    else if (time[i]! - pressed < coasts - 1e-6) kinds.push('pedal');
    else if (road !== undefined && road.values[i]! < PUSHES) kinds.push(undefined);
    else kinds.push('wheels');
  }
  return kinds;
}

/** A car in gear lets its engine down slowly after a lift: what the pedal brought up is not the wheels' doing. */
function isTail(event: OverRev, before: OverRev | undefined, maxGap: number, revLimit: number): boolean {
  if (event.by !== 'wheels' || before?.by !== 'pedal' || event.from - before.to > maxGap) return false;
  return event.peak <= before.peak + SAME * revLimit;
}

function tailOf(event: OverRev): OverRev {
  return { ...event, by: 'pedal', severity: undefined, passed: undefined, near: false };
}

function eventOf(
  inputs: OverRevInputs,
  value: Float64Array,
  at: Float64Array,
  start: number,
  end: number,
  by: Drive,
  interval: number,
): OverRev {
  let peak = Number.NaN;
  let peakAt = Number.NaN;
  for (let k = start; k < end; k++) {
    const both = Math.min(value[k]!, value[k + 1]!);
    if (!(both <= peak)) [peak, peakAt] = [both, at[k]!];
  }
  let severity: Severity | undefined;
  let passed: string | undefined;
  let near = false;
  for (const [name, level] of LADDERS[by === 'wheels' ? 'wheels' : 'others']) {
    const limit = inputs.limits[name]!;
    const rpm = inputs.revLimit * (1 + limit.value / 100);
    let [first, beyond] = [-1, false];
    for (let k = start; k <= end && !beyond; k++) {
      const surely = exceeds(value[k]!, inputs.uncertainty, rpm, limit.comparison) === 'beyond';
      if (!surely) first = -1;
      else {
        if (first < 0) first = k;
        beyond = k - first + 1 >= FRESH && at[k]! - at[first]! + interval >= LEAST - 1e-6;
      }
    }
    if (beyond) [severity, passed] = [level, name];
    else if (exceeds(peak, inputs.uncertainty, rpm, limit.comparison) !== 'within') near = true;
  }
  return { from: at[start]!, to: at[end]!, by, peak, peakAt, severity, passed, near, samples: end - start + 1 };
}

/** Times the limiter was reached with the pedal down: events closer together than a second are one; what no limiter does is none. */
export function contacts(events: readonly OverRev[]): number {
  let count = 0;
  let last = Number.NEGATIVE_INFINITY;
  for (const { by, from, to, passed } of events) {
    if (by === 'wheels' || passed === 'far') continue;
    if (from - last > CONTACT) count++;
    last = to;
  }
  return count;
}
