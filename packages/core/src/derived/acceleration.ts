import { correlation } from '../math/correlation.js';
import { valuesAt } from '../math/gather.js';
import { median } from '../math/quantile.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED, type Speed } from './speed.js';

export interface Acceleration {
  /** m/s2 along the car, row by row; NaN where it cannot be told. */
  readonly values: Float64Array;
  /** `longitudinalAcceleration` or the source of the speed. */
  readonly source: string;
  /** Typical standard uncertainty, m/s2. */
  readonly u: number;
  /** Fresh values per second. */
  readonly hz: number;
  /** Half-width (s) of the window that each derivative was taken over; 0 for a sensor. */
  readonly window: number;
}

/** Tilt, mounting and road slope that stay in a sensor after its rest value is taken off: 3 % slope, common practice. */
const TILT = 0.3;

export const ACCELERATION = recipe<Acceleration>({
  id: 'acceleration',
  about:
    'Longitudinal acceleration (m/s2): the sensor, less its rest value, where it agrees with the speed; else the slope of fresh speed samples over a short window (least squares).',
  compute(drive) {
    const speed = drive.derive(SPEED);
    const sensed = fromSensor(drive, isRefusal(speed) ? undefined : speed);
    if (sensed !== undefined) return sensed;
    return isRefusal(speed) ? refuse(`no acceleration: ${speed.reason}`, speed.missing) : speedSlope(drive, speed);
  },
});

/** Slope of the speed alone, also where a sensor is there: for comparing the two. */
export const SPEED_SLOPE = recipe<Acceleration>({
  id: 'speedSlope',
  about: 'Slope of fresh speed samples over a short window (least squares), m/s2.',
  compute(drive) {
    const speed = drive.derive(SPEED);
    return isRefusal(speed) ? refuse(`no acceleration: ${speed.reason}`, speed.missing) : slopeOf(drive.time, speed);
  },
});

function speedSlope(drive: Drive, speed: Speed): Acceleration {
  const slope = drive.derive(SPEED_SLOPE);
  return isRefusal(slope) ? slopeOf(drive.time, speed) : slope;
}

/** Least-squares slope over +-window around each fresh sample, linear between them. */
function slopeOf(
  time: Float64Array,
  speed: Pick<Speed, 'values' | 'fresh' | 'hz' | 'quantum' | 'source'>,
): Acceleration {
  const { values, fresh, hz, quantum } = speed;
  const window = Math.max(0.25, 1.05 / hz);
  // Two samples that stand closer than this came late and early: their slope is jitter.
  const least = 0.5 * Math.min(window, 0.6 / hz) ** 2;
  const { slopes, spread } = slopesOf(valuesAt(time, fresh), valuesAt(values, fresh), window, least);
  const u = quantum / 3.6 / Math.sqrt(12) / Math.sqrt(spread);
  const lines = fresh.length === time.length ? slopes : linesOf(time, fresh, slopes, Math.max(2.5 / hz, 2 * window));
  return { values: lines, source: speed.source, u, hz, window };
}

/** Slopes (m/s2; NaN where there are too few samples), and the median spread (s2) of the times that a slope is told from. */
function slopesOf(
  at: Float64Array,
  v: Float64Array,
  window: number,
  least: number,
): { readonly slopes: Float64Array; readonly spread: number } {
  const n = at.length;
  const slopes = new Float64Array(n);
  const spreads: number[] = [];
  const stride = Math.max(1, n >> 12);
  let low = 0;
  for (let k = 0; k < n; k++) {
    const t = at[k]!;
    while (at[low]! < t - window) low++;
    let count = 0;
    let sx = 0;
    let sy = 0;
    let sxx = 0;
    let sxy = 0;
    for (let j = low; j < n; j++) {
      const x = at[j]! - t;
      if (x > window) break;
      const y = v[j]!;
      count++;
      sx += x;
      sy += y;
      sxx += x * x;
      sxy += x * y;
    }
    const spread = sxx - (sx * sx) / count;
    const told = count >= 2 && spread > least;
    slopes[k] = told ? (sxy - (sx * sy) / count) / spread / 3.6 : Number.NaN;
    if (told && k % stride === 0) spreads.push(spread);
  }
  return { slopes, spread: median(spreads) };
}

/** Row by row, linear between the fresh samples, NaN where they are further apart than `reach` (s). */
function linesOf(time: Float64Array, fresh: Int32Array, slopes: Float64Array, reach: number): Float64Array {
  const lines = new Float64Array(time.length).fill(Number.NaN);
  for (let k = 0; k < fresh.length; k++) {
    const start = fresh[k]!;
    lines[start] = slopes[k]!;
    if (k + 1 >= fresh.length) break;
    const stop = fresh[k + 1]!;
    const t0 = time[start]!;
    const span = time[stop]! - t0;
    if (span > reach) continue;
    const a = slopes[k]!;
    const b = slopes[k + 1]!;
    for (let i = start + 1; i < stop; i++) lines[i] = a + ((b - a) * (time[i]! - t0)) / span;
  }
  return lines;
}

/** The sensor, if it agrees with the speed (or there is no speed to ask); its sign and rest value are taken from there. */
function fromSensor(drive: Drive, speed: Speed | undefined): Acceleration | undefined {
  const id = 'longitudinalAcceleration';
  const channel = drive.channel(id);
  const samples = samplesOf(drive);
  const sensed = samples.held(id);
  if (channel === undefined || sensed === undefined || channel.quality.constant) return undefined;
  const hz = samples.hz(id);
  const quantum = channel.quality.quantum / Math.sqrt(12);
  if (speed === undefined) return { values: sensed, source: id, u: Math.hypot(TILT, quantum), hz, window: 0 };
  const slope = speedSlope(drive, speed);
  const agreement = correlation(sensed, slope.values);
  // A sensor that does not follow the speed (another axis, another unit) is worse than the slope of the speed.
  if (!(Math.abs(agreement) > 0.6)) return undefined;
  const sign = agreement < 0 ? -1 : 1;
  const rest = new Float64Array(sensed.length);
  const all = new Float64Array(sensed.length);
  let resting = 0;
  let count = 0;
  for (let i = 0; i < sensed.length; i++) {
    const difference = sign * sensed[i]! - slope.values[i]!;
    if (Number.isNaN(difference)) continue;
    all[count++] = difference;
    if (speed.values[i]! < speed.standing) rest[resting++] = difference;
  }
  const offset = median(resting >= 20 ? rest.subarray(0, resting) : all.subarray(0, count));
  const values = new Float64Array(sensed.length);
  for (let i = 0; i < sensed.length; i++) values[i] = sign * sensed[i]! - offset;
  return { values, source: id, u: Math.hypot(TILT, quantum), hz, window: 0 };
}
