import { gathered } from '../math/gather.js';
import { DRIVEN_SPEED } from './driven-speed.js';
import { type Drive, isRefusal, type Refusal, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

/** Shaft speed at its own fresh samples with the speed that the gearbox is geared to (driven wheels, else road). */
export interface Trace {
  /** s */
  readonly time: Float64Array;
  /** rpm */
  readonly n: Float64Array;
  /** Fresh shaft speeds per second. */
  readonly hz: number;
  /** Road speed (km/h) at entries first..last. */
  roadOver(first: number, last: number): Float64Array;
  /** Relative standard uncertainty of the ratio at a road speed, quanta only. */
  u(v: number): number;
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
  const time = gathered(drive.time, rows);
  const n = gathered(values, rows);
  const roadTime = gathered(drive.time, speed.fresh);
  for (let i = 0; i < roadTime.length; i++) roadTime[i]! -= lag;
  const road = gathered(speed.values, speed.fresh);
  const interpolated = speed.quantum <= FINE && speed.hz >= FAST;
  const quantum = drive.channel(shaft)!.quality.quantum;
  const firstAt = (t: number): number => {
    let low = 0;
    let high = roadTime.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (roadTime[middle]! < t) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  return {
    time,
    n,
    hz: samples.hz(shaft),
    u: (v) => Math.hypot(speed.quantum / v / Math.sqrt(12), quantum / 1000 / Math.sqrt(12)),
    roadOver(first, last) {
      const at = time.subarray(first, last + 1);
      const reach = 1 / speed.hz + 0.05;
      const low = Math.max(0, firstAt(at[0]! - reach) - 1);
      const high = Math.min(roadTime.length, firstAt(at[at.length - 1]! + reach) + 1);
      return interpolated ? linear(roadTime, road, low, high, at) : fitted(roadTime, road, low, high, at);
    },
  };
}

function linear(time: Float64Array, v: Float64Array, low: number, high: number, at: Float64Array): Float64Array {
  let j = low;
  return at.map((t) => {
    while (j + 2 < high && time[j + 1]! < t) j++;
    const span = time[j + 1]! - time[j]!;
    return span > 0 ? v[j]! + ((v[j + 1]! - v[j]!) * (t - time[j]!)) / span : Number.NaN;
  });
}

/** Least-squares line: a coarse speed is smooth in truth over the second that a shift takes. */
function fitted(time: Float64Array, v: Float64Array, low: number, high: number, at: Float64Array): Float64Array {
  let s = 0;
  let st = 0;
  let sv = 0;
  let stt = 0;
  let stv = 0;
  const origin = at[0]!;
  for (let k = low; k < high; k++) {
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
