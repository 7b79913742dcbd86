import { BMEP } from '../../derived/bmep.js';
import { exceeds } from '../../derived/exceeds.js';
import { KNOCK_SIGNAL, type KnockSignal } from '../../derived/knock-signal.js';
import { MISFIRES } from '../../derived/misfires.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import type { Channel } from '../../recording/recording.js';

/** Speed (rpm) below which pre-ignition of a boosted engine happens, and slowest that is judged. */
const BELOW = 3000;
const ABOVE = 1200;
/** Slowest retard that shows a jump, Hz. */
export const SLOWEST = 5;
/** Seconds in which the other cylinders may not follow, and in which a misfire belongs to the event. */
const TOGETHER = 0.3;
const MISFIRE_NEAR = 1;
/** Cylinders whose retard has to be recorded, or "the others" means nothing. */
const FEWEST = 3;

export interface PreIgnition {
  readonly at: number;
  readonly cylinder: number | undefined;
  /** deg by which the cylinder jumped; NaN when a counter told. */
  readonly jump: number;
  readonly rpm: number;
  readonly misfire: boolean;
}

export interface PreIgnitionReading {
  readonly events: readonly PreIgnition[];
  /** Seconds at low speed and high pressure in which a jump would have shown. */
  readonly seconds: number;
  readonly counter: boolean;
  /** The counter stood above 0 when the recording began. */
  readonly before: number;
  readonly jumps: boolean;
  readonly rate: number;
  readonly channels: readonly Channel[];
}

export interface Wanted {
  readonly jump: number;
  readonly others: number;
  readonly pressure: number;
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly family: (base: 'preIgnitionCount' | 'knockRetard') => readonly Channel[];
};

export function readPreIgnition(view: Reads, wanted: Wanted): PreIgnitionReading | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const speed = samples.held('engineSpeed');
  const counters = view.family('preIgnitionCount').filter(({ quality }) => quality.samples > 1);
  const signal = view.derive(KNOCK_SIGNAL);
  const pressure = view.derive(BMEP);
  const cylinders = isRefusal(signal) ? [] : signal.channels.filter(({ cylinder }) => cylinder !== undefined);
  const rate = isRefusal(signal) ? Number.NaN : signal.rate;
  const jumps = cylinders.length >= FEWEST && rate >= 0.98 * SLOWEST && !isRefusal(pressure) && speed !== undefined;
  if (!jumps && counters.length === 0) {
    if (cylinders.length >= FEWEST && isRefusal(pressure)) return refuse(pressure.reason, pressure.missing);
    return cylinders.length >= FEWEST
      ? refuse('knock retard comes too slowly to show a jump', { conditions: [`knockRetard at >= ${SLOWEST} Hz`] })
      : refuse('neither a counter of pre-ignition nor the knock retard of each cylinder is recorded', {
          channels: ['knockRetard'],
          conditions: ['knock retard of each cylinder'],
        });
  }
  const ripe = new Uint8Array(view.time.length);
  let seconds = 0;
  if (speed !== undefined && !isRefusal(pressure))
    for (let i = 0; i < ripe.length; i++) {
      if (!(speed[i]! >= ABOVE && speed[i]! < BELOW && pressure.values[i]! >= wanted.pressure)) continue;
      ripe[i] = 1;
      if (i > 0) seconds += Math.min(view.time[i]! - view.time[i - 1]!, samples.maxStep);
    }
  const misfires = view.derive(MISFIRES);
  const missed = (at: number): boolean => {
    if (isRefusal(misfires)) return false;
    for (let i = 0; i < view.time.length; i++)
      if (misfires.added[i]! > 0 && Math.abs(view.time[i]! - at) <= MISFIRE_NEAR) return true;
    return false;
  };
  const told = counters.flatMap((channel) => steps(channel, view.time, speed));
  const seen = jumps && !isRefusal(signal) ? jumpsOf(signal, ripe, view.time, speed!, wanted) : [];
  // The same event by counter and by retard counts once.
  const apart = seen.filter(({ at, cylinder }) =>
    told.every((each) => Math.abs(each.at - at) > 2 || (each.cylinder !== undefined && each.cylinder !== cylinder)),
  );
  return {
    events: [...told, ...apart].sort((a, b) => a.at - b.at).map((each) => ({ ...each, misfire: missed(each.at) })),
    seconds,
    counter: counters.length > 0,
    before: Math.max(0, ...counters.map(({ values }) => values.find((x) => !Number.isNaN(x)) ?? 0)),
    jumps,
    rate,
    channels: [...counters, ...(jumps ? view.family('knockRetard') : [])],
  };
}

type Found = Omit<PreIgnition, 'misfire'>;

/** Rising steps of a counter; a fall is a reset. */
function steps(channel: Channel, time: Float64Array, speed: Float64Array | undefined): Found[] {
  const cylinder = Number(/[.]cylinder(\d+)$/.exec(channel.id)?.[1] ?? Number.NaN);
  const found: Found[] = [];
  let last = Number.NaN;
  for (let i = 0; i < time.length; i++) {
    const x = channel.values[i]!;
    if (Number.isNaN(x)) continue;
    const rise = x - last;
    for (let k = 0; k < Math.min(rise, 20); k++)
      found.push({
        at: time[i]!,
        cylinder: Number.isNaN(cylinder) ? undefined : cylinder,
        jump: Number.NaN,
        rpm: speed?.[i] ?? Number.NaN,
      });
    last = x;
  }
  return found;
}

/** One cylinder that jumps between two fresh samples while the others stay: tip-in, shifts and traction control move several. */
function jumpsOf(
  { channels }: KnockSignal,
  ripe: Uint8Array,
  time: Float64Array,
  speed: Float64Array,
  wanted: Wanted,
): Found[] {
  const cylinders = channels.filter(({ cylinder }) => cylinder !== undefined);
  const found: Found[] = [];
  for (const each of cylinders) {
    for (let i = 1; i < time.length; i++) {
      const jump = each.values[i]! - each.values[i - 1]!;
      if (!(jump >= wanted.jump) || ripe[i] === 0 || time[i]! - time[i - 1]! > 2 / SLOWEST) continue;
      if (exceeds(jump, Math.SQRT2 * each.uncertainty, wanted.jump, '>=') !== 'beyond') continue;
      const alone = cylinders.every((other) => other === each || followed(other.values, time, i) < wanted.others);
      if (alone) found.push({ at: time[i]!, cylinder: each.cylinder, jump, rpm: speed[i]! });
    }
  }
  return found;
}

/** deg by which a cylinder rises around a row. */
function followed(values: Float64Array, time: Float64Array, row: number): number {
  const before = values[row - 1]!;
  let most = 0;
  for (let i = row; i < time.length && time[i]! - time[row]! <= TOGETHER; i++)
    most = Math.max(most, values[i]! - before);
  return most;
}
