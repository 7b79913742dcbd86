import type { Speed } from './speed.js';

/** When a car began to move. */
export interface Onset {
  readonly t: number;
  readonly u: number;
}

/**
 * Begin of movement from the first fresh moving samples, drawn back to zero speed in two ways: by a line (acceleration
 * at once: too late) and by a parabola (acceleration builds up: too early). The truth lies between, and the distance
 * counts as a rectangular uncertainty. A wheel sensor reads 0 up to 2-3 km/h, so in fast logs the begin
 * may lie before the last sample that stands.
 */
export function onsetOf(time: Float64Array, speed: Speed, k: number, last: number): Onset {
  const { values, fresh, quantum } = speed;
  const t1 = time[fresh[k]!]!;
  const v1 = values[fresh[k]!]!;
  const interval = 1 / speed.hz;
  // Last sample that truly read rest: 0.8 km/h counts as standstill but is a car that moves.
  let m = k - 1;
  while (m > 0 && values[fresh[m]!]! > 0.6 * quantum && t1 - time[fresh[m]!]! < 1) m--;
  const rest = m >= 0 ? time[fresh[m]!]! : time[last]!;
  const earliest = Math.max(t1 - Math.max(1, 2 * interval), Math.min(rest, t1 - interval)) - (interval < 0.3 ? 0.6 : 0);
  // Far enough on for noise and quantum not to make the slope.
  let j = k + 1;
  while (j + 1 < fresh.length && (time[fresh[j]!]! - t1 < 0.1 || values[fresh[j]!]! - v1 < 1.5 * quantum)) {
    if (time[fresh[j]!]! - t1 > 1) break;
    j++;
  }
  const rise = j < fresh.length ? values[fresh[j]!]! - v1 : 0;
  if (!(rise > 0)) return { t: (earliest + t1) / 2, u: (t1 - earliest) / Math.sqrt(12) };
  const dt = time[fresh[j]!]! - t1;
  const clamp = (t: number): number => Math.min(t1, Math.max(earliest, t));
  const line = clamp(t1 - (v1 * dt) / rise);
  const parabola = clamp(t1 - (Math.sqrt(v1) * dt) / (Math.sqrt(v1 + rise) - Math.sqrt(v1)));
  const step = Math.min(interval, (quantum * dt) / rise);
  // Clutches take up over some tenths of a second: nearer to the parabola. What remains of the unknown build-up, of the
  // control unit's own filter and of the clamps is taken as 0.07 s and a tenth of the interval (common practice).
  const u = Math.hypot((line - parabola) / Math.sqrt(12), step / Math.sqrt(12), 0.07, 0.1 * interval);
  return { t: (line + 2 * parabola) / 3, u };
}

/** Speed at one time after the begin. */
export interface Gain {
  /** km/h at the time asked for. */
  readonly v: number;
  /** km/h per s there. */
  readonly slope: number;
  /** km/h, of the interpolation between distant samples. */
  readonly u: number;
}

/** Speed at `t` by the line between the fresh samples on both sides, from the begin of movement on. */
export function speedAt(time: Float64Array, speed: Speed, k: number, begin: number, t: number): Gain | undefined {
  const { values, fresh } = speed;
  let j = k;
  while (j < fresh.length && time[fresh[j]!]! < t) j++;
  if (j >= fresh.length) return undefined;
  const t1 = time[fresh[j]!]!;
  const v1 = values[fresh[j]!]!;
  const t0 = j > k ? time[fresh[j - 1]!]! : begin;
  const v0 = j > k ? values[fresh[j - 1]!]! : 0;
  const span = t1 - t0;
  if (!(span > 0)) return { v: v1, slope: 0, u: 0 };
  if (span > 4 / speed.hz + 1) return undefined;
  const slope = (v1 - v0) / span;
  const next = j + 1 < fresh.length ? (values[fresh[j + 1]!]! - v1) / (time[fresh[j + 1]!]! - t1) : slope;
  // The line misses a bend by at most (change of slope) * span / 8.
  const bend = (Math.abs(next - slope) * span) / 8;
  // How the speed changes there, over a third of a second at least: neighbouring fine samples show their noise.
  let back = j;
  while (back > k && t1 - time[fresh[back]!]! < 0.3) back--;
  const wide = back < j ? (v1 - values[fresh[back]!]!) / (t1 - time[fresh[back]!]!) : slope;
  return { v: v0 + slope * (t - t0), slope: Math.max(0, wide), u: bend };
}

/**
 * Greatest mean acceleration (m/s2) over about a second (one interval of a slower log) within 2.5 s of the begin, half a
 * quantum granted. Unlike the gain of the first second it does not hang on when the car began to move, so it bounds it.
 */
export function steepestSecond(time: Float64Array, speed: Speed, k: number, begin: number): number {
  const { values, fresh, quantum } = speed;
  let steepest = 0;
  for (let i = Math.max(0, k - 1); i < fresh.length && time[fresh[i]!]! <= begin + 1.5; i++) {
    let j = i + 1;
    while (j < fresh.length && time[fresh[j]!]! - time[fresh[i]!]! < 0.7) j++;
    if (j >= fresh.length || time[fresh[j]!]! > Math.max(begin + 2.5, time[fresh[i]!]! + 1 / speed.hz)) break;
    const span = time[fresh[j]!]! - time[fresh[i]!]!;
    steepest = Math.max(steepest, (values[fresh[j]!]! - values[fresh[i]!]! + quantum / 2) / span / 3.6);
  }
  return steepest;
}

/** Time (s of the recording) at which `target` km/h was reached, within 15 s of the begin; undefined when it was not. */
export function timeTo(time: Float64Array, speed: Speed, k: number, begin: number, target: number): number | undefined {
  const { values, fresh } = speed;
  for (let j = k; j < fresh.length && time[fresh[j]!]! <= begin + 15; j++) {
    const v1 = values[fresh[j]!]!;
    if (v1 < target) {
      if (v1 < speed.standing && time[fresh[j]!]! > begin + 0.5) return undefined;
      continue;
    }
    const t1 = time[fresh[j]!]!;
    const t0 = j > k ? time[fresh[j - 1]!]! : begin;
    const v0 = j > k ? values[fresh[j - 1]!]! : 0;
    return t0 + ((target - v0) / (v1 - v0)) * (t1 - t0);
  }
  return undefined;
}
