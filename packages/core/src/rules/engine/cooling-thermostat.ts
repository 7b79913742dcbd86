import type { FluidSeries } from '../../derived/temperature-series.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { median, quantile } from '../../math/quantile.js';

/** Engine counts as warm from here, degC. Common practice, no source. */
export const WARM_FROM = 70;
/** The thermostat's own level is read at these speeds (km/h): wind enough, but little. */
const TOWN = { from: 20, to: 75 };
/** Here an open thermostat shows (km/h). */
const ROAD = { from: 80, to: 120 };
/** Coolant follows a new balance with a time constant of a minute or so: this long (s) to settle, and as long to be judged. */
const SETTLE = 90;
const JUDGED = 60;
/** Seconds of town driving that give an own level. */
const LEVEL_SECONDS = 60;
/** After this long (s) of running, half of it moving, every engine is warm unless coolant runs through the radiator. */
const WARM_UP = 600;
const MOVING = 300;
/** Below this outside air (degC) a healthy engine may stay cool as well. Common practice, no source. */
export const TOO_COLD = -10;
/** Still rising faster than this (K/s): not settled yet. */
const RISING = 1 / 60;
/** Mapped thermostats hold 100 to 110 degC at light load and 85 to 90 degC at high load; that is no fault. Common practice, no source. */
const MAPPED = { from: 100, to: 85 };
/** A thermostat that closes lets no warm engine stay below its limit for this long (s), most of it moving. */
const STAYS = 60;
const MOSTLY = 0.5;
/** A long overrun cools a sound engine too: of the minutes (s) up to then at most this share. Common practice, no source. */
const OVERRUN = { seconds: 180, share: 0.5 };
/** Below this outside air (degC) the heater alone can hold an engine down that hardly works. Common practice, no source. */
const HEATER = 0;
/** Engine off for longer than this (s): the warm-up begins anew. */
const RESTART = 300;

export interface Thermostat {
  /** Level at town speeds once warm, degC; NaN when not seen. */
  readonly level: number;
  /** Level at 80 to 120 km/h, settled; NaN when not seen. */
  readonly atSpeed: number;
  readonly atSpeedFrom: number;
  readonly atSpeedTo: number;
  readonly samples: number;
  /** A mapped thermostat explains the difference. */
  readonly mapped: boolean;
  /** Highest reading after a warm-up that was long enough, degC; NaN when it was not. */
  readonly settled: number;
  readonly settledAt: number;
  /** Highest level held at 80 to 120 km/h after the same warm-up, degC; NaN when not seen. */
  readonly roadWarm: number;
  readonly roadWarmAt: number;
  /** Lowest level (degC) that it stayed below for a minute of driving after such a warm-up, not rising; NaN when not seen. */
  readonly stays: number;
  readonly staysAt: number;
  /** Outside air was too cold to judge the warm-up. */
  readonly tooCold: boolean;
  /** Seconds from below 40 degC to warm; NaN when not seen. */
  readonly warmUp: number;
  /** Seconds warm and, of these, moving. */
  readonly warm: number;
  readonly moving: number;
  /** Seconds of engine running that the recording holds. */
  readonly run: number;
}

/**
 * @param speed km/h at the samples of the series; @param ambient degC, NaN when not recorded; @param overrun 1 at the
 * samples in which the car drives the engine; without it no level counts that is not held
 */
export function thermostatReading(
  series: FluidSeries,
  speed: Float64Array | undefined,
  ambient: number,
  overrun?: ArrayLike<number>,
): Thermostat {
  const ready = new Uint8Array(series.value.length);
  const seen = warmUpOf(series, speed, ready);
  let { settled } = seen;
  // Still on its way up at the end: how far it would have come is not known.
  if (!Number.isNaN(settled) && settled < WARM_FROM + 5 && slopeAtEnd(series) > RISING) settled = Number.NaN;
  const { since, settledAt, warmUp, warm, moving, run } = seen;
  const level = townLevel(series, speed);
  const levels = roadLevels(series, speed);
  const road = levels.reduce((a, b) => (a.atSpeed <= b.atSpeed ? a : b), NO_ROAD);
  const warmRoad = levels
    .filter(({ atSpeedFrom }) => atSpeedFrom >= since)
    .reduce((a, b) => (a.atSpeed >= b.atSpeed ? a : b), NO_ROAD);
  const stays = ambient < HEATER ? NO_STAY : lowestStay(series, ready, speed, overrun);
  return {
    level,
    ...road,
    mapped: level >= MAPPED.from && road.atSpeed >= MAPPED.to,
    settled,
    settledAt,
    roadWarm: warmRoad.atSpeed,
    roadWarmAt: warmRoad.atSpeedFrom,
    ...stays,
    tooCold: ambient < TOO_COLD,
    warmUp,
    warm,
    moving,
    run,
  };
}

interface WarmUp extends Pick<Thermostat, 'settled' | 'settledAt' | 'warmUp' | 'warm' | 'moving' | 'run'> {
  /** Seconds from which every engine is warm. */
  readonly since: number;
}

/** @param ready set to 1 at the samples by which every engine is warm since its last start */
function warmUpOf(series: FluidSeries, speed: Float64Array | undefined, ready: Uint8Array): WarmUp {
  const { time, value, hold } = series;
  const n = value.length;
  let warm = 0;
  let moving = 0;
  let run = 0;
  let driven = 0;
  // Both at the last start.
  let fresh = 0;
  let freshDriven = 0;
  let coldAt = Number.NaN;
  let warmUp = Number.NaN;
  let settled = Number.NaN;
  let settledAt = Number.NaN;
  // Time from which every engine is warm.
  let since = Number.POSITIVE_INFINITY;
  for (let i = 0; i < n; i++) {
    const x = value[i]!;
    const dt = hold[i]!;
    const v = speed === undefined ? Number.NaN : speed[i]!;
    if (i > 0 && time[i]! - time[i - 1]! > RESTART) {
      fresh = run;
      freshDriven = driven;
    }
    run += dt;
    if (v >= TOWN.from) driven += dt;
    if (run - fresh >= WARM_UP && driven - freshDriven >= MOVING) ready[i] = 1;
    if (x >= WARM_FROM) {
      warm += dt;
      if (v >= TOWN.from) moving += dt;
      if (Number.isNaN(warmUp) && !Number.isNaN(coldAt)) warmUp = time[i]! - coldAt;
    } else if (Number.isNaN(coldAt) && x < 40 && i === 0) coldAt = time[i]!;
    if (run < WARM_UP || driven < MOVING) continue;
    since = Math.min(since, time[i]!);
    if (!(settled >= x)) {
      settled = x;
      settledAt = time[i]!;
    }
  }
  return { since, settled, settledAt, warmUp, warm, moving, run };
}

const NO_STAY = { stays: Number.NaN, staysAt: Number.NaN };

/** Gentle driving never settles long enough on a road: a minute below what every thermostat holds tells as much. */
function lowestStay(
  series: FluidSeries,
  ready: Uint8Array,
  speed: Float64Array | undefined,
  overrun: ArrayLike<number> | undefined,
): Pick<Thermostat, 'stays' | 'staysAt'> {
  if (speed === undefined || overrun === undefined) return NO_STAY;
  const judged = lowLevels(series, ready, speed, overrun);
  const { value: held, index } = heldMaximum(judged, series.time, STAYS, Math.max(series.maxGap, 10));
  return index < 0 ? NO_STAY : { stays: -held, staysAt: series.time[index]! };
}

/** Negative, so that the highest value held is the lowest that it stayed below; NaN where the level is not told. */
function lowLevels(
  { time, value, hold }: FluidSeries,
  ready: Uint8Array,
  speed: Float64Array,
  overrun: ArrayLike<number>,
): Float64Array {
  const judged = new Float64Array(value.length);
  let moving = 0;
  let pushed = 0;
  let minute = 0;
  let long = 0;
  for (let i = 0; i < judged.length; i++) {
    if (speed[i]! >= TOWN.from) moving += hold[i]!;
    if (overrun[i] === 1) pushed += hold[i]!;
    for (; time[i]! - time[minute]! > STAYS; minute++) if (speed[minute]! >= TOWN.from) moving -= hold[minute]!;
    for (; time[i]! - time[long]! > OVERRUN.seconds; long++) if (overrun[long] === 1) pushed -= hold[long]!;
    const told = ready[i] === 1 && moving >= MOSTLY * STAYS && pushed <= OVERRUN.share * OVERRUN.seconds;
    judged[i] = told && !(value[i]! - value[minute]! > RISING * STAYS) ? -value[i]! : Number.NaN;
  }
  return judged;
}

/** Lower quartile once warm: standing in traffic lifts the upper part, the thermostat holds the lower. */
function townLevel(series: FluidSeries, speed: Float64Array | undefined): number {
  if (speed === undefined) return Number.NaN;
  const highest = quantile(series.value, 0.9);
  const found: number[] = [];
  let seconds = 0;
  let reached = false;
  for (let i = 0; i < series.value.length; i++) {
    const x = series.value[i]!;
    if (x >= highest - 3) reached = true;
    if (!reached || !(speed[i]! >= TOWN.from && speed[i]! <= TOWN.to)) continue;
    found.push(x);
    seconds += series.hold[i]!;
  }
  return seconds >= LEVEL_SECONDS ? quantile(found, 0.25) : Number.NaN;
}

interface Road {
  readonly atSpeed: number;
  readonly atSpeedFrom: number;
  readonly atSpeedTo: number;
  readonly samples: number;
}

const NO_ROAD: Road = { atSpeed: Number.NaN, atSpeedFrom: Number.NaN, atSpeedTo: Number.NaN, samples: 0 };

/** Each level held at road speed, after it had time to settle and is not rising any more. */
function roadLevels(series: FluidSeries, speed: Float64Array | undefined): Road[] {
  const { time, value, hz, maxGap } = series;
  const found: Road[] = [];
  if (speed === undefined) return found;
  const close = (start: number, end: number): void => {
    let first = start;
    while (first <= end && time[first]! - time[start]! < SETTLE) first++;
    if (first >= end || time[end]! - time[first]! < JUDGED) return;
    const held = value.subarray(first, end + 1);
    const half = held.length >> 1;
    if (median(held.subarray(half)) - median(held.subarray(0, half)) > 2) return;
    const seconds = time[end]! - time[first]!;
    found.push({
      atSpeed: median(held),
      atSpeedFrom: time[first]!,
      atSpeedTo: time[end]!,
      samples: Math.max(1, Math.round(seconds * hz)),
    });
  };
  let start = -1;
  for (let i = 0; i < value.length; i++) {
    const inside = speed[i]! >= ROAD.from && speed[i]! <= ROAD.to;
    const torn = i > 0 && time[i]! - time[i - 1]! > Math.max(maxGap, 10);
    if (start >= 0 && (!inside || torn)) {
      close(start, i - 1);
      start = -1;
    }
    if (inside && start < 0) start = i;
  }
  if (start >= 0) close(start, value.length - 1);
  return found;
}

/** K/s over the last two minutes. */
function slopeAtEnd({ time, value }: FluidSeries): number {
  const end = time.length - 1;
  let start = end;
  while (start > 0 && time[end]! - time[start]! < 120) start--;
  const half = (start + end) >> 1;
  if (half <= start) return 0;
  const early = median(value.subarray(start, half));
  const late = median(value.subarray(half, end + 1));
  return (late - early) / Math.max(1, (time[end]! - time[start]!) / 2);
}
