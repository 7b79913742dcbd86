import { AMBIENT } from '../../derived/ambient.js';
import { BOOST_AUTHORITY, type BoostAuthority } from '../../derived/boost-authority.js';
import { BOOST_DYNAMICS } from '../../derived/boost-dynamics.js';
import { uncertaintyOf } from '../../derived/exceeds.js';
import { FULL_LOAD } from '../../derived/full-load.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES, type Samples } from '../../derived/samples.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** Pairs of position and command, by family. */
const PAIRS = [
  ['wastegatePosition', 'wastegateTarget'],
  ['turbineVanePosition', 'turbineVaneTarget'],
] as const;
/** The target is still when it moved by no more than this (points) within the time (s); the deviation has to last so long. */
const STILL = { points: 3, seconds: 1 } as const;
export const POSITION_HELD = 1;

export interface Deviation {
  readonly id: string;
  readonly from: number;
  readonly value: number;
  readonly u: number;
}

export interface TurboReading {
  readonly authority: BoostAuthority | undefined;
  readonly authorityMissing: Refusal | undefined;
  readonly barometer: number;
  /** Position less command with the command still, the largest of each stretch; points. */
  readonly deviations: readonly Deviation[];
  readonly positions: readonly Channel[];
  /** Seconds with a command that stood still. */
  readonly still: number;
  /** Largest difference between the actuators of two banks at settled full load, points; NaN with one. */
  readonly banks: number;
  readonly spoolTime: number;
  readonly spoolSpeed: number;
  readonly settledDuty: number;
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly family: (
    base: 'wastegatePosition' | 'wastegateTarget' | 'turbineVanePosition' | 'turbineVaneTarget',
  ) => readonly Channel[];
};

export function readTurbo(view: Reads): TurboReading | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const authority = view.derive(BOOST_AUTHORITY);
  const ambient = view.derive(AMBIENT);
  const dynamics = view.derive(BOOST_DYNAMICS);
  const full = view.derive(FULL_LOAD);
  const deviations: Deviation[] = [];
  const positions: Channel[] = [];
  let still = 0;
  for (const [base, aim] of PAIRS) {
    const targets = view.family(aim).filter(({ quality }) => quality.samples > 0);
    for (const position of view.family(base)) {
      const at = position.id.split('.')[1];
      const target = targets.find(({ id }) => id.split('.')[1] === at);
      if (target === undefined || position.quality.constant) continue;
      positions.push(position);
      const found = deviationsOf(view.time, samples, position, target);
      still += found.still;
      deviations.push(...found.deviations);
    }
  }
  if (isRefusal(authority) && positions.length === 0)
    return refuse(authority.reason, {
      channels: authority.missing.channels,
      conditions: authority.missing.conditions,
    });
  const spool = isRefusal(dynamics) ? [] : dynamics.responses.filter(({ spoolTime }) => !Number.isNaN(spoolTime));
  return {
    authority: isRefusal(authority) ? undefined : authority,
    authorityMissing: isRefusal(authority) ? authority : undefined,
    barometer: isRefusal(ambient) ? 101.325 : ambient.pressure,
    deviations,
    positions,
    still,
    banks: isRefusal(authority) || isRefusal(full) ? Number.NaN : bankDifference(authority),
    spoolTime: median(spool.map(({ spoolTime }) => spoolTime)),
    spoolSpeed: median(spool.map(({ spoolSpeed }) => spoolSpeed)),
    settledDuty: isRefusal(authority) ? Number.NaN : (authority.actuators[0]?.settled ?? Number.NaN),
  };
}

function bankDifference({ actuators }: BoostAuthority): number {
  const levels = actuators.map(({ settled }) => settled).filter((x) => !Number.isNaN(x));
  return levels.length < 2 ? Number.NaN : Math.max(...levels) - Math.min(...levels);
}

function deviationsOf(
  time: Float64Array,
  samples: Samples,
  position: Channel,
  target: Channel,
): { readonly deviations: readonly Deviation[]; readonly still: number } {
  const is = samples.held(position.id)!;
  const wanted = samples.held(target.id)!;
  const fresh = samples.fresh(position.id);
  const u = Math.hypot(uncertaintyOf(position, { noise: 0.5 }), uncertaintyOf(target));
  const deviations: Deviation[] = [];
  let still = 0;
  let first = 0;
  let since = 0;
  const t: number[] = [];
  const off: number[] = [];
  const close = (): void => {
    const held = heldMaximum(off, t, Math.max(POSITION_HELD, 2 / samples.hz(position.id)), samples.maxStep);
    if (held.index >= 0) deviations.push({ id: position.id, from: t[held.index]!, value: held.value, u });
    t.length = 0;
    off.length = 0;
  };
  for (let k = 0; k < fresh.length; k++) {
    const i = fresh[k]!;
    // The command has stood still since row `since`, within a window that ends here.
    if (
      Math.abs(wanted[i]! - wanted[first]!) > STILL.points ||
      time[i]! - time[Math.max(0, i - 1)]! > samples.maxStep
    ) {
      close();
      first = i;
      since = i;
      continue;
    }
    if (Number.isNaN(wanted[i]!) || Number.isNaN(is[i]!)) continue;
    if (time[i]! - time[since]! < STILL.seconds) continue;
    if (t.length > 0) still += Math.min(time[i]! - t[t.length - 1]!, samples.maxStep);
    t.push(time[i]!);
    off.push(Math.abs(is[i]! - wanted[i]!));
  }
  close();
  return { deviations, still };
}
