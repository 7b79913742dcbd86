import { median } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { BOOST_PAIR, type BoostPair } from './boost-pair.js';
import { FULL_LOAD } from './full-load.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface BoostActuator {
  readonly channel: Channel;
  /** 1 = more duty makes more boost, -1 = less; by what the control unit does while boost is missing. */
  readonly polarity: 1 | -1;
  /** Share of the actuator's authority that is used to make boost, %; NaN = no sample. */
  readonly used: Float64Array;
  /** Median of `used` at settled full load; NaN when there is none. */
  readonly settled: number;
}

/** kPa: boost counts as missing beyond the first, as settled within the second. */
const MISSING = 20;
const SETTLED = 8;
/** Points of duty, and correlation, below which nothing shows the polarity. */
const DIFFERS = 5;
const APART = 15;
const CORRELATED = 0.4;
const FEW = 5;

export const BOOST_ACTUATORS = recipe<readonly BoostActuator[]>({
  id: 'boostActuators',
  about:
    'Duty of the boost actuators as the share of their authority that is used, 0 to 100 %: the polarity is learned from what the control unit does at full load while boost is still missing, else from duty against boost.',
  compute(drive) {
    const channels = drive.family('wastegateDuty').filter(({ quality }) => quality.samples > 0 && !quality.constant);
    if (channels.length === 0)
      return refuse('nothing shows the boost actuator, because wastegateDuty is absent', {
        channels: ['wastegateDuty'],
      });
    const pair = drive.derive(BOOST_PAIR);
    if (isRefusal(pair)) return pair;
    const full = drive.derive(FULL_LOAD);
    if (isRefusal(full)) return full;
    const samples = samplesOf(drive);
    const found = channels.flatMap((channel): BoostActuator[] => {
      const duty = samples.held(channel.id)!;
      const fresh = samples.fresh(channel.id);
      const missing: number[] = [];
      const settled: number[] = [];
      const pieces = full.pieces;
      let k = 0;
      for (const { start, end } of pieces) {
        while (k < fresh.length && fresh[k]! < start) k++;
        for (; k < fresh.length && fresh[k]! <= end; k++) {
          const i = fresh[k]!;
          const error = pair.actual[i]! - pair.target[i]!;
          if (!(pair.target[i]! - pair.barometer >= SETTLED)) continue;
          if (error < -MISSING) missing.push(duty[i]!);
          else if (Math.abs(error) < SETTLED) settled.push(duty[i]!);
        }
      }
      const trend = against(duty, pair.actual, pair.barometer, fresh);
      const direction = directionOf(missing, settled, offBoost(duty, pair, fresh), trend);
      if (direction === 0) return [];
      const polarity = direction;
      const middle = settled.length >= FEW ? median(settled) : Number.NaN;
      return [
        {
          channel,
          polarity,
          used: polarity > 0 ? duty : duty.map((x) => 100 - x),
          settled: polarity > 0 ? middle : 100 - middle,
        },
      ];
    });
    return found.length === 0
      ? refuse('the polarity of the boost actuator does not show', {
          conditions: ['pulls from 2000 rpm in which boost is built up and held'],
        })
      : found;
  },
});

/**
 * 1 where more duty makes more boost, -1 where less does, 0 where it does not show. While boost is missing the control unit
 * goes to the end that makes boost. A valve that is released off boost stands far from there; an actuator that is kept
 * closed off boost stands at the same end, and only what it does once boost is settled tells.
 */
function directionOf(missing: readonly number[], settled: readonly number[], off: number, trend: number): 1 | -1 | 0 {
  const building = missing.length >= FEW ? median(missing) : Number.NaN;
  const level = settled.length >= FEW ? median(settled) : Number.NaN;
  if (Math.abs(building - off) >= APART) return building > off ? 1 : -1;
  if (Math.abs(building - level) >= DIFFERS) return building > level ? 1 : -1;
  return Math.abs(trend) >= CORRELATED ? (trend > 0 ? 1 : -1) : 0;
}

/** Median duty without boost, NaN when there is none. */
function offBoost(duty: Float64Array, { actual, barometer }: BoostPair, rows: Int32Array): number {
  const values: number[] = [];
  const stride = Math.max(1, Math.floor(rows.length / 4000));
  for (let k = 0; k < rows.length; k += stride) {
    const i = rows[k]!;
    if (actual[i]! < barometer + SETTLED && !Number.isNaN(duty[i]!)) values.push(duty[i]!);
  }
  return values.length >= FEW ? median(values) : Number.NaN;
}

/** Correlation of duty with boost, off boost and on it; NaN when either hardly moves. */
function against(duty: Float64Array, pressure: Float64Array, barometer: number, rows: Int32Array): number {
  let n = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let syy = 0;
  let sxy = 0;
  for (let k = 0; k < rows.length; k++) {
    const i = rows[k]!;
    const x = duty[i]!;
    const y = Math.max(0, pressure[i]! - barometer);
    if (Number.isNaN(x) || Number.isNaN(y)) continue;
    n++;
    sx += x;
    sy += y;
    sxx += x * x;
    syy += y * y;
    sxy += x * y;
  }
  const vx = n * sxx - sx * sx;
  const vy = n * syy - sy * sy;
  return n >= 10 && vx > 0 && vy > 0 ? (n * sxy - sx * sy) / Math.sqrt(vx * vy) : Number.NaN;
}
