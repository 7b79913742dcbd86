import { heldMaximum } from '../math/held-maximum.js';
import type { Channel } from '../recording/recording.js';
import { BOOST_ACTUATORS, type BoostActuator } from './boost-actuator.js';
import { BOOST_PAIR, type BoostPair } from './boost-pair.js';
import { FULL_LOAD } from './full-load.js';
import { isRefusal, recipe } from './recipe.js';
import { samplesOf } from './samples.js';

/** What the boost actuator had left in one pull. */
export interface AuthorityPull {
  readonly pull: number;
  readonly from: number;
  /** kPa missing while the actuator stood at its end, held for {@link AUTHORITY.seconds}; NaN when it never stood there so long. */
  readonly missing: number;
  readonly at: number;
  readonly rpm: number;
  /** Highest share of the authority held for the same time after boost had its time to build, %. */
  readonly used: number;
  /** Seconds that could be judged. */
  readonly judged: number;
}

export interface BoostAuthority {
  readonly pulls: readonly AuthorityPull[];
  readonly actuators: readonly BoostActuator[];
  readonly pair: BoostPair;
  readonly channels: readonly Channel[];
  readonly hz: number;
}

/** At its end from this share on; the time it has to stand there; rpm and seconds of full pedal after which boost is due. */
export const AUTHORITY = { share: 95, seconds: 1, rpm: 3000, due: 3, afterShift: 1 } as const;

export const BOOST_AUTHORITY = recipe<BoostAuthority>({
  id: 'boostAuthority',
  about:
    'Boost that is missing while the actuator stands at 95 % of its authority or more for a second, above 3000 rpm and after 3 s of full pedal, per pull.',
  compute(drive) {
    const actuators = drive.derive(BOOST_ACTUATORS);
    if (isRefusal(actuators)) return actuators;
    const pair = drive.derive(BOOST_PAIR);
    if (isRefusal(pair)) return pair;
    const full = drive.derive(FULL_LOAD);
    if (isRefusal(full)) return full;
    const samples = samplesOf(drive);
    const { time } = drive;
    const speed = samples.held('engineSpeed');
    const fresh = samples.fresh(pair.channels[0].id);
    const best = new Map<number, AuthorityPull>();
    let k = 0;
    for (const piece of full.pieces) {
      while (k < fresh.length && fresh[k]! < piece.start) k++;
      const rows: number[] = [];
      for (; k < fresh.length && fresh[k]! <= piece.end; k++) rows.push(fresh[k]!);
      const t = Float64Array.from(rows, (i) => time[i]!);
      const missing = new Float64Array(rows.length).fill(Number.NaN);
      const used = new Float64Array(rows.length).fill(Number.NaN);
      let judged = 0;
      for (let j = 0; j < rows.length; j++) {
        const i = rows[j]!;
        const settledIn = piece.from - piece.began < 0.2 ? 0 : AUTHORITY.afterShift;
        if (t[j]! - piece.began < AUTHORITY.due || t[j]! - piece.from < settledIn) continue;
        if (!(speed !== undefined && speed[i]! >= AUTHORITY.rpm)) continue;
        const short = pair.target[i]! - pair.actual[i]!;
        if (Number.isNaN(short) || !(pair.target[i]! > pair.barometer + 10)) continue;
        // The actuator with most left decides: one of two that does its best is a matter of the banks.
        let least = Number.POSITIVE_INFINITY;
        for (const each of actuators) if (each.used[i]! < least) least = each.used[i]!;
        if (!Number.isFinite(least)) continue;
        used[j] = least;
        if (j > 0) judged += Math.min(t[j]! - t[j - 1]!, samples.maxStep);
        if (least >= AUTHORITY.share) missing[j] = short;
      }
      const held = heldMaximum(missing, t, AUTHORITY.seconds, samples.maxStep);
      const top = heldMaximum(used, t, AUTHORITY.seconds, samples.maxStep);
      if (judged === 0) continue;
      const before = best.get(piece.pull);
      const better =
        before === undefined || held.value > before.missing || (Number.isNaN(before.missing) && held.index >= 0);
      const row = held.index < 0 ? -1 : rows[held.index]!;
      best.set(piece.pull, {
        pull: piece.pull,
        from: piece.from,
        missing: better ? held.value : before.missing,
        at: better ? (row < 0 ? piece.from : time[row]!) : before.at,
        rpm: better ? (row < 0 ? Number.NaN : (speed?.[row] ?? Number.NaN)) : before.rpm,
        used: Math.max(Number.isNaN(top.value) ? 0 : top.value, before?.used ?? 0),
        judged: judged + (before?.judged ?? 0),
      });
    }
    return {
      pulls: [...best.values()],
      actuators,
      pair,
      channels: [...pair.channels, ...actuators.map(({ channel }) => channel)],
      hz: Math.min(pair.hz, ...actuators.map(({ channel }) => samples.hz(channel.id))),
    };
  },
});
