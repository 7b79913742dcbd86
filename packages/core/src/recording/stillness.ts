import type { Interval } from './recording.js';
import type { Runs } from './run.js';

/** A channel after cleaning, as the tests for stuck and clipped values need it. */
export interface Trace {
  readonly values: Float64Array;
  readonly runs: Runs;
  /** Seconds between fresh values; 0 when not known. */
  readonly period: number;
}

/** A run of equal values, as sample indices: `from` inclusive, `to` exclusive (next run's first sample). */
interface Hold {
  readonly from: number;
  readonly to: number;
  readonly value: number;
}

/** Runs that last at least `seconds`, as holds. NaN inside a run is stepped over. */
function holds(trace: Trace, time: Float64Array, seconds: number): Hold[] {
  const { count, starts } = trace.runs;
  const found: Hold[] = [];
  for (let k = 0; k < count; k++) {
    const from = starts[k]!;
    const to = k + 1 < count ? starts[k + 1]! : time.length;
    if (time[to - 1]! - time[from]! >= seconds) found.push({ from, to, value: trace.values[from]! });
  }
  return found;
}

interface Span {
  readonly min: number;
  readonly max: number;
  readonly changes: number;
}

/** Range and number of changes of a channel between two samples; min and max are NaN when it has none there. */
function span(values: Float64Array, from: number, to: number): Span {
  let min = Number.NaN;
  let max = Number.NaN;
  let last = Number.NaN;
  let changes = 0;
  for (let i = from; i < to; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    if (!(x >= min)) min = x;
    if (!(x <= max)) max = x;
    if (x !== last) changes++;
    last = x;
  }
  return { min, max, changes };
}

/** Relative movement of the engine speed in a stretch that makes a motionless air path impossible. */
const ENGINE_MOVES = 0.25;
/** Shortest stretch called frozen (s) for channels that follow the engine at once. */
const AT_ONCE = 15;

/**
 * Stretches in which the engine speed stood exactly still although the road speed changed by more than 10 % and
 * 5 km/h: with a drive line between them that cannot be, whatever the quantum. Idle and steady cruise are not touched.
 */
export function frozenEngineSpeed(engine: Trace, vehicle: Trace | undefined, time: Float64Array): Interval[] {
  if (vehicle === undefined) return [];
  return holds(engine, time, Math.max(3, 10 * engine.period))
    .filter((hold) => {
      if (!(hold.value > 0)) return false;
      const road = span(vehicle.values, hold.from, hold.to);
      const moved = road.max - road.min;
      return (
        road.min > 15 &&
        moved > 5 &&
        moved > 0.1 * road.max &&
        moved > (3 * engine.runs.quantum * road.max) / hold.value
      );
    })
    .map((hold) => interval(hold, time));
}

/** Share by which road speeds move in a cruise (bends, spin of a wheel); engine speeds of one gear differ by less. Common practice, no source. */
const CRUISE = 0.05;
const ONE_GEAR = 0.04;
/** Share of the time that two gears and the shift between them leave for other engine speeds. */
const BETWEEN = 0.25;

/**
 * Stretches >= 15 s in which a road speed above 5 km/h stood exactly still while the engine speed kept moving by more than
 * a quarter. Other road speeds settle it where there are any: in a cruise they stand still too, to their steps. Else an
 * engine that turned at one or two speeds nearly all the time has shifted, and the road speed is as steady as it reads.
 * @param kin other speeds that go with the road: wheels, output shaft, satellite; any unit
 */
export function frozenVehicleSpeed(
  vehicle: Trace,
  engine: Trace | undefined,
  time: Float64Array,
  kin: readonly Trace[] = [],
): Interval[] {
  if (engine === undefined) return [];
  return holds(vehicle, time, Math.max(AT_ONCE, 10 * vehicle.period))
    .filter((hold) => {
      if (!(hold.value > 5)) return false;
      const speed = span(engine.values, hold.from, hold.to);
      if (speed.changes < 10 || !(speed.max - speed.min > ENGINE_MOVES * speed.max)) return false;
      const step = vehicle.runs.quantum / hold.value;
      const moved = kin
        .map(({ values }) => span(values, hold.from, hold.to))
        .filter(({ max }) => max > 0)
        .map(({ min, max }) => (max - min) / max)
        .sort((a, b) => a - b);
      // Rounded to a step the road may have moved by one, and a wheel beside it by the same again.
      if (moved.length > 0) return moved[moved.length >> 1]! > CRUISE + 2 * step;
      return !twoSpeeds(engine.values, hold.from, hold.to);
    })
    .map((hold) => interval(hold, time));
}

/** Nearly all samples lie at one of two levels. */
function twoSpeeds(values: Float64Array, from: number, to: number): boolean {
  const sorted = values
    .slice(from, to)
    .filter((x) => !Number.isNaN(x))
    .sort();
  let left = sorted;
  for (let level = 0; level < 2 && left.length > 0; level++) {
    // The level that most samples share.
    let [best, least] = [0, 0];
    for (let i = 0, j = 0; j < left.length; j++) {
      while (left[j]! > left[i]! * (1 + 2 * ONE_GEAR)) i++;
      if (j - i + 1 > best) [best, least] = [j - i + 1, i];
    }
    left = left.filter((_, i) => i < least || i >= least + best);
  }
  return left.length <= BETWEEN * sorted.length;
}

/**
 * Stretches >= 15 s in which a channel that follows the engine at once (pressure, air mass, load) stood exactly still
 * while the engine speed kept moving by more than a quarter. Values at the channel's own ends are left alone: closed
 * throttle and a clipped sensor hold by nature. Coarse channels (a step above 2 % of their span) are not judged.
 */
export function frozenFollower(trace: Trace, engine: Trace | undefined, time: Float64Array): Interval[] {
  const { runs } = trace;
  if (engine === undefined || runs.count < 30 || runs.quantum > 0.02 * (runs.max - runs.min)) return [];
  return holds(trace, time, Math.max(AT_ONCE, 20 * trace.period))
    .filter((hold) => {
      if (hold.value - runs.min < 2 * runs.quantum || runs.max - hold.value < 2 * runs.quantum) return false;
      const speed = span(engine.values, hold.from, hold.to);
      return speed.min > 300 && speed.changes >= 10 && speed.max - speed.min > ENGINE_MOVES * speed.max;
    })
    .map((hold) => interval(hold, time));
}

/**
 * A channel that follows the engine at once and yet held one value for the whole recording (a minute and more) while
 * the engine speed moved by more than a quarter: frozen from start to end.
 */
export function frozenThroughout(trace: Trace, engine: Trace | undefined, time: Float64Array): Interval[] {
  const n = time.length;
  if (engine === undefined || trace.runs.count !== 1 || trace.runs.samples < 20 || time[n - 1]! - time[0]! < 60)
    return [];
  const { runs } = engine;
  const moved = runs.count >= 30 && runs.max - Math.max(runs.min, 400) > ENGINE_MOVES * runs.max;
  return moved ? [{ from: time[0]!, to: time[n - 1]! }] : [];
}

/**
 * A temperature that never changes although the engine ran for ten minutes and another temperature rose by 20 K:
 * frozen from start to end. Whole recording or nothing.
 * @param warmedBy rise of the warmest-going other temperature (K)
 * @param running seconds with the engine turning
 */
export function frozenTemperature(trace: Trace, time: Float64Array, warmedBy: number, running: number): Interval[] {
  if (trace.runs.count !== 1 || trace.runs.samples < 20 || !(warmedBy >= 20) || !(running >= 600)) return [];
  return [{ from: time[0]!, to: time[time.length - 1]! }];
}

/** Seconds that a lost link must last before it is called one. */
const LINK_LOST = 5;

/**
 * Stretches in which every one of at least three lively channels stood still at once with the engine turning: the
 * logger repeated its last answers. Key-on with the engine at rest is not touched.
 */
export function frozenLink(lively: readonly Trace[], engine: Trace | undefined, time: Float64Array): Interval[] {
  if (engine === undefined || lively.length < 3) return [];
  let slowest = 0;
  for (const trace of lively) if (trace.period > slowest) slowest = trace.period;
  const shortest = Math.max(LINK_LOST, 20 * slowest);
  return holds(engine, time, shortest)
    .filter((hold) => hold.value > 0 && lively.every((trace) => span(trace.values, hold.from, hold.to).changes <= 2))
    .filter((hold) => {
      // The others may have moved once before the engine speed stood still; what counts is the common stretch.
      let from = hold.from;
      for (const trace of lively) {
        for (let i = hold.to - 1; i > hold.from; i--) {
          const a = trace.values[i]!;
          const b = trace.values[i - 1]!;
          if (!Number.isNaN(a) && !Number.isNaN(b) && a !== b) {
            if (i > from) from = i;
            break;
          }
        }
      }
      return time[hold.to - 1]! - time[from]! >= shortest;
    })
    .map((hold) => interval(hold, time));
}

/** Shortest time at an end of the format (s) that counts as clipped. */
const CLIPPED = 0.5;

/**
 * Stretches at the end of the sensor's or the format's range. Exactly on a format end (255 kPa in one byte) for 0.5 s
 * and two fresh values is clipped. Its own maximum counts only if it is visited at least twice, for 1.5 s and longer
 * each, while the engine speed moves by more than 15 %, and if the values pile up there: a controlled pressure scatters
 * around its target, a clipped one does not.
 * @param ends format ends of the channel, in its unit
 */
export function saturatedStretches(
  trace: Trace,
  ends: readonly number[],
  engine: Trace | undefined,
  time: Float64Array,
): Interval[] {
  const { runs, values } = trace;
  if (runs.count < 10) return [];
  const tolerance = Math.max(0.5 * runs.quantum, 1e-3 * Math.abs(runs.max));
  const atEnd = ends.some((end) => Math.abs(end - runs.max) <= tolerance);
  if (atEnd) {
    return holds(trace, time, Math.max(CLIPPED, 2 * trace.period))
      .filter((hold) => hold.value === runs.max)
      .map((hold) => interval(hold, time));
  }
  if (engine === undefined || !pilesUp(values, runs)) return [];
  const flat = holds(trace, time, Math.max(1.5, 5 * trace.period)).filter((hold) => {
    if (hold.value !== runs.max) return false;
    const speed = span(engine.values, hold.from, hold.to);
    return speed.max - speed.min > 0.15 * speed.max;
  });
  return flat.length >= 2 ? flat.map((hold) => interval(hold, time)) : [];
}

/** True when at least four times as many samples lie on the maximum as in the five steps below it. */
function pilesUp(values: Float64Array, runs: Runs): boolean {
  const step = Math.max(runs.quantum, 0.002 * (runs.max - runs.min));
  const top = runs.max - 0.5 * runs.quantum;
  const below = runs.max - 5.5 * step;
  let on = 0;
  let near = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (x >= top) on++;
    else if (x >= below) near++;
  }
  return on >= 10 && on >= 4 * near;
}

/** Steps of an engine speed beside its highest reading: in coarser ones a steady speed is exactly flat. */
const FINE = 0.005;
/** Share of the road speed by which the car gathers speed in a flat stretch. */
const GATHERS = 0.03;

/**
 * Stretches in which the engine speed lies flat on its own highest reading while the car gathers speed: cut off there, by
 * an end of the display or afterwards. Twice at least, half a second and four fresh values each, its values piled up there.
 * A limiter swings, and holds the road speed too.
 */
export function cutEngineSpeed(engine: Trace, vehicle: Trace | undefined, time: Float64Array): Interval[] {
  const { runs, values } = engine;
  if (vehicle === undefined || runs.count < 30 || runs.quantum > FINE * runs.max || !pilesUp(values, runs)) return [];
  const flat = holds(engine, time, Math.max(CLIPPED, 4 * engine.period)).filter((hold) => {
    if (hold.value !== runs.max) return false;
    const road = span(vehicle.values, hold.from, hold.to);
    return road.min > 15 && road.max - road.min > Math.max(GATHERS * road.max, 2 * vehicle.runs.quantum);
  });
  return flat.length >= 2 ? flat.map((hold) => interval(hold, time)) : [];
}

function interval(hold: Hold, time: Float64Array): Interval {
  return { from: time[hold.from]!, to: time[hold.to - 1]! };
}
