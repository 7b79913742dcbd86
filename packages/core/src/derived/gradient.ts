import { linearRegression } from '../math/linear-regression.js';
import { type Drive, isRefusal, recipe } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED } from './speed.js';

export interface Gradient {
  /** Rise over run, 1, row by row; 0 where it is not known. */
  readonly values: Float64Array;
  /** Standard uncertainty, rise over run. */
  readonly u: number;
  readonly source: string;
}

/** Standard deviation of the slope of main roads: 1.5 % (common practice, no source). */
const UNKNOWN = 0.015;
/** Seconds on each side over which altitude is set against distance. */
const REACH = 5;
/** What an altitude that wanders by a metre leaves of doubt. */
const KNOWN = 0.008;

export const GRADIENT = recipe<Gradient>({
  id: 'gradient',
  about:
    'Slope of the road: altitude regressed on distance over 10 s where altitude is recorded at >= 0.5 Hz in steps <= 2 m; else 0 with a standard uncertainty of 1.5 %.',
  compute(drive) {
    const known = fromAltitude(drive);
    if (known !== undefined) return known;
    const values = new Float64Array(drive.time.length);
    return { values, u: UNKNOWN, source: 'not recorded, level road taken' };
  },
});

function fromAltitude(drive: Drive): Gradient | undefined {
  const channel = drive.channel('altitude');
  const speed = drive.derive(SPEED);
  if (channel === undefined || isRefusal(speed) || channel.quality.constant || channel.quality.quantum > 2)
    return undefined;
  const samples = samplesOf(drive);
  if (samples.hz('altitude') < 0.5) return undefined;
  const height = samples.held('altitude')!;
  const { time } = drive;
  const rows = time.length;
  const distance = new Float64Array(rows);
  for (let i = 1; i < rows; i++) {
    const v = speed.values[i]!;
    const step = time[i]! - time[i - 1]!;
    distance[i] = distance[i - 1]! + (Number.isNaN(v) || step > samples.maxStep ? 0 : (v / 3.6) * step);
  }
  const fresh = samples.fresh('altitude');
  const values = new Float64Array(rows);
  let low = 0;
  let high = 0;
  let at = 0;
  for (let k = 0; k < fresh.length; k++) {
    const t = time[fresh[k]!]!;
    while (time[fresh[low]!]! < t - REACH) low++;
    while (high < fresh.length && time[fresh[high]!]! <= t + REACH) high++;
    const x = Float64Array.from(fresh.subarray(low, high), (row) => distance[row]!);
    const y = Float64Array.from(fresh.subarray(low, high), (row) => height[row]!);
    const run = x[x.length - 1]! - x[0]!;
    const slope = x.length >= 4 && run >= 30 ? linearRegression(x, y).slope : 0;
    const value = Math.abs(slope) <= 0.3 ? slope : 0;
    const until = k + 1 < fresh.length ? fresh[k + 1]! : rows;
    for (; at < until; at++) values[at] = value;
  }
  return { values, u: KNOWN, source: 'altitude' };
}
