import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import type { Segment } from '../../derived/intervals.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import { windowMinimum } from '../../math/window-minimum.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';

/** Half-width of what the sensor may be off from car to car, bar; its absolute error is part of the limits. Common practice, no source. */
const TOLERANCE = 0.03;
/** Idle has to be held this long (s), after this much of settling from higher speed. The length is the rule's own. */
export const IDLE_SECONDS = 10;
const SETTLE = 2;
/** A pressure too low for the engine speed counts from this long (s) and this many fresh samples. */
const EVENT_SECONDS = 1;
const EVENT_FRESH = 3;
/** Pressure is judged against engine speed from here on, rpm; the rule's own. */
export const SPEED_FROM = 2000;
/** Pressure follows speed late: the lowest speed within this many seconds counts. Common practice, no source. */
const FOLLOWS = 0.5;
/** Pressure needs this long (s) after a start to be there; the start itself is `engine.oil-surge`. */
const AFTER_START = 10;

export interface IdleReading {
  readonly from: number;
  readonly to: number;
  /** bar, median */
  readonly pressure: number;
  readonly uncertainty: number;
  readonly rpm: number;
  readonly samples: number;
}

/** Stretches of hot idle, each by its median; short ones are put together where no long one was seen. */
export function idleReadings(
  channel: Channel,
  pressure: Float64Array,
  fresh: Int32Array,
  rpm: Float64Array,
  time: Float64Array,
  idle: readonly Segment[],
  hot: Uint8Array,
  zeroError: number,
): IdleReading[] {
  const long: IdleReading[] = [];
  const pool: number[] = [];
  const poolRpm: number[] = [];
  let pooled = 0;
  let first = Number.NaN;
  let last = Number.NaN;
  let next = 0;
  const close = (values: number[], speeds: number[], from: number, to: number): IdleReading => ({
    from,
    to,
    pressure: median(values),
    rpm: median(speeds),
    samples: values.length,
    uncertainty: Math.hypot(
      uncertaintyOf(channel, { noise: madn(values), fresh: values.length, tolerance: TOLERANCE }),
      zeroError,
    ),
  });
  for (const segment of idle) {
    const values: number[] = [];
    const speeds: number[] = [];
    let begin = Number.NaN;
    let end = Number.NaN;
    while (next < fresh.length && fresh[next]! < segment.start) next++;
    for (; next < fresh.length && fresh[next]! <= segment.end; next++) {
      const row = fresh[next]!;
      if (time[row]! < segment.from + SETTLE || hot[row] === 0) continue;
      values.push(pressure[row]!);
      speeds.push(rpm[row]!);
      if (Number.isNaN(begin)) begin = time[row]!;
      end = time[row]!;
    }
    const seconds = values.length < 2 ? 0 : (end - begin) * (values.length / (values.length - 1));
    if (values.length >= EVENT_FRESH && seconds >= IDLE_SECONDS - 1e-6) long.push(close(values, speeds, begin, end));
    for (const x of values) pool.push(x);
    for (const x of speeds) poolRpm.push(x);
    pooled += seconds;
    if (Number.isNaN(first)) first = begin;
    if (!Number.isNaN(end)) last = end;
  }
  if (long.length > 0) return long;
  return pooled >= IDLE_SECONDS && pool.length >= EVENT_FRESH ? [close(pool, poolRpm, first, last)] : [];
}

export interface SpeedEvent {
  readonly from: number;
  readonly to: number;
  readonly level: 'repair' | 'stop';
  /** bar and rpm at the lowest pressure, and the limit there. */
  readonly pressure: number;
  readonly rpm: number;
  readonly limit: number;
  readonly samples: number;
  /** The oil was not yet hot. */
  readonly cold: boolean;
}

export interface SpeedReading {
  readonly events: readonly SpeedEvent[];
  /** Seconds seen above `SPEED_FROM` with hot oil. */
  readonly seconds: number;
  readonly samples: number;
  /** The pressure that came nearest to its limit for as long as an event lasts, and where; NaN when never seen. */
  readonly nearest: { readonly pressure: number; readonly limit: number; readonly rpm: number; readonly at: number };
  /** bar, standard uncertainty of one value. */
  readonly uncertainty: number;
}

export interface SpeedLimits {
  readonly perThousand: Limit;
  readonly cap: Limit;
  readonly stop: Limit;
}

/** Pressure against engine speed, sample by sample. */
export function speedReading(
  channel: Channel,
  pressure: Float64Array,
  fresh: Int32Array,
  rpm: Float64Array,
  time: Float64Array,
  hot: Uint8Array,
  hz: number,
  limits: SpeedLimits,
  zeroError: number,
): SpeedReading {
  const uncertainty = Math.hypot(
    uncertaintyOf(channel, { tolerance: TOLERANCE, noise: noiseOf(pressure, fresh) }),
    zeroError,
  );
  const reach = Math.max(FOLLOWS, 1 / hz);
  const maxStep = Math.max(3 / hz, 2.5);
  const events: SpeedEvent[] = [];
  let seconds = 0;
  let samples = 0;
  let nearest = { pressure: Number.NaN, limit: Number.NaN, rpm: Number.NaN, at: Number.NaN };
  const runs = { repair: openRun(), stop: openRun(), cold: openRun() };
  const recent: { at: number; share: number; pressure: number; limit: number; rpm: number }[] = [];
  const slowest = windowMinimum(rpm, time, reach);
  let started = rpm[0]! >= 300 ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
  let row = 0;
  let previous = Number.NaN;
  const finish = (run: Run, level: 'repair' | 'stop', cold: boolean): void => {
    const duration = run.to - run.from + 1 / hz;
    if (run.samples >= EVENT_FRESH && duration >= EVENT_SECONDS - 1e-6) {
      events.push({
        from: run.from,
        to: run.to,
        level,
        pressure: run.pressure,
        rpm: run.rpm,
        limit: run.limit,
        samples: run.samples,
        cold,
      });
    }
    run.samples = 0;
  };
  for (let k = 0; k < fresh.length; k++) {
    const i = fresh[k]!;
    for (; row <= i; row++) {
      if (!(rpm[row]! >= 300)) started = Number.POSITIVE_INFINITY;
      else if (started === Number.POSITIVE_INFINITY) started = time[row]!;
    }
    const t = time[i]!;
    const p = pressure[i]!;
    const n = slowest[i]!;
    const inside = n > SPEED_FROM && t - started >= AFTER_START;
    const warm = hot[i] === 1;
    const gap = t - previous > maxStep;
    previous = t;
    if (gap || !inside || !warm) recent.length = 0;
    const limit = Math.min((limits.perThousand.value * n) / 1000, limits.cap.value);
    const sample = (run: Run, level: 'repair' | 'stop', holds: boolean, against: number, cold: boolean): void => {
      if (gap || !holds) finish(run, level, cold);
      if (!holds) return;
      if (run.samples === 0) Object.assign(run, { from: t, pressure: Number.POSITIVE_INFINITY });
      run.samples++;
      run.to = t;
      if (p < run.pressure) Object.assign(run, { pressure: p, rpm: n, limit: against });
    };
    const below = (against: number, { comparison }: Limit): boolean =>
      inside && exceeds(p, uncertainty, against, comparison) === 'beyond';
    sample(runs.repair, 'repair', warm && below(limit, limits.perThousand), limit, false);
    sample(runs.stop, 'stop', warm && below(limits.stop.value, limits.stop), limits.stop.value, false);
    sample(runs.cold, 'stop', !warm && below(limits.stop.value, limits.stop), limits.stop.value, true);
    if (!inside || !warm) continue;
    samples++;
    seconds += 1 / hz;
    recent.push({ at: t, share: p / limit, pressure: p, limit, rpm: n });
    while (recent.length > EVENT_FRESH && t - recent[1]!.at + 1 / hz >= EVENT_SECONDS - 1e-6) recent.shift();
    if (recent.length < EVENT_FRESH || t - recent[0]!.at + 1 / hz < EVENT_SECONDS - 1e-6) continue;
    let best = recent[0]!;
    for (const each of recent) if (each.share > best.share) best = each;
    if (!(best.share >= nearest.pressure / nearest.limit)) {
      nearest = { pressure: best.pressure, limit: best.limit, rpm: best.rpm, at: best.at };
    }
  }
  finish(runs.repair, 'repair', false);
  finish(runs.stop, 'stop', false);
  finish(runs.cold, 'stop', true);
  events.sort((a, b) => a.from - b.from);
  return { events, seconds, samples, nearest, uncertainty };
}

interface Run {
  from: number;
  to: number;
  samples: number;
  pressure: number;
  rpm: number;
  limit: number;
}

function openRun(): Run {
  return { from: 0, to: 0, samples: 0, pressure: Number.POSITIVE_INFINITY, rpm: 0, limit: 0 };
}

/** Scatter of neighbouring fresh samples, bar: second differences, so that a ramp of speed is no noise. */
function noiseOf(pressure: Float64Array, fresh: Int32Array): number {
  const found: number[] = [];
  const stride = Math.max(1, Math.floor(fresh.length / 4096));
  for (let k = 2; k < fresh.length; k += stride) {
    found.push(pressure[fresh[k]!]! - 2 * pressure[fresh[k - 1]!]! + pressure[fresh[k - 2]!]!);
  }
  return found.length < 3 ? 0 : Math.min(0.1, madn(found) / Math.sqrt(6));
}
