import { orderStatistic } from '../math/quantile.js';
import type { Certainty, Channel } from '../recording/recording.js';
import { both, except, type Segment } from './intervals.js';
import { knockPace } from './knock-pace.js';
import { LOAD_FRACTION } from './load-fraction.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
import { heldValues } from './refresh.js';
import { type Samples, samplesOf, stretches } from './samples.js';
import { PULLS } from './segments.js';
import { interventionsOf } from './torque-interventions.js';

/** High load for knock, and the lowest speed at which the sensor tells knock from noise (common practice, no source). */
export const KNOCK_LOAD = 0.6;
export const KNOCK_SPEED = 1500;
/** Where the pedal is not recorded, this much load for this long stands in for a pull (common practice, no source). */
const PULL_LOAD = 0.8;
const PULL_TIME = 2;
/** Control units retard in steps no coarser than this (deg); a larger "smallest step" is a lack of small events. */
const COARSEST = 0.75;
/** A torque intervention retards all cylinders alike: what one has beyond the least of so many cylinders (deg) is its own. */
const ALIKE_FROM = 3;
const OWN = 1;

export interface KnockChannel {
  readonly id: string;
  /** Cylinder number; undefined for one retard of the whole engine. */
  readonly cylinder: number | undefined;
  /** Retard above the learned offset (deg), each value held until the next; NaN = not known. */
  readonly values: Float64Array;
  /** The same, less what all cylinders share while the traction control may be at work. */
  readonly own: Float64Array;
  /** 1 = a retard that begins here is knock: high load, and no tip-in, shift or traction control explains it. */
  readonly eligible: Uint8Array;
  /** Steady retard (deg) that is there at low load as well, already taken off `values`. */
  readonly offset: number;
  /** Standard uncertainty of one reading (deg): quantum / sqrt(12), JCGM 100 F.2.2.1. */
  readonly uncertainty: number;
  readonly certainty: Certainty;
}

export interface KnockSignal {
  readonly channels: readonly KnockChannel[];
  /** 1 = high load at >= 1500 rpm. */
  readonly loaded: Uint8Array;
  /** 1 = loaded, and neither tip-in nor shift nor traction control is near; for the map. */
  readonly eligible: Uint8Array;
  /** rpm and load (1), held; load is NaN where only the pedal tells that it is high. */
  readonly speed: Float64Array;
  readonly load: Float64Array;
  readonly loadBasis: 'torque' | 'air-mass' | 'calculated-load' | 'pedal';
  readonly pulls: readonly Segment[];
  readonly pullBasis: 'pedal' | 'load';
  /** Fresh retard values per second (Hz); `rateCertain` false when the rate is that of the channel's group. */
  readonly rate: number;
  readonly rateCertain: boolean;
  /** Decoys that could not be looked for, because what shows them is not recorded. */
  readonly blind: readonly string[];
}

/** Cylinder number of a channel id, undefined for the whole engine's. */
function cylinderOf(id: string): number | undefined {
  const found = /[.]cylinder(\d+)$/.exec(id);
  return found ? Number(found[1]) : undefined;
}

export const KNOCK_SIGNAL = recipe<KnockSignal>({
  id: 'knockSignal',
  about:
    'Knock retard above its steady learned offset, with the rows at which a retard can be knock: load fraction >= 0.6 at >= 1500 rpm, outside tip-in, shifts and traction control (common practice, no source).',
  compute: knockSignal,
});

function knockSignal(drive: Drive): KnockSignal | Refusal {
  const family = drive.family('knockRetard').filter((c) => c.id === 'knockRetard' || cylinderOf(c.id) !== undefined);
  const samples = samplesOf(drive);
  const speed = samples.held('engineSpeed');
  if (family.length === 0) return refuse('knock retard is not recorded', { channels: ['knockRetard'] });
  if (!speed) return refuse('engine speed is not recorded', { channels: ['engineSpeed'] });
  const { time } = drive;
  const found = loadOf(drive, samples);
  if (!('high' in found)) return found;
  const { high, load, loadBasis } = found;
  const loaded = new Uint8Array(time.length);
  for (let i = 0; i < loaded.length; i++) loaded[i] = high[i] === 1 && speed[i]! >= KNOCK_SPEED ? 1 : 0;
  const pace = knockPace(family, time, samples.hz('engineSpeed'));
  const decoys = interventionsOf(drive);
  const settled = except(loaded, decoys.mask);
  const eligible = except(settled, decoys.traction);
  const retards = family.map((channel) => retardOf(channel, samples, speed, loaded));
  const cylinders = retards.filter((each) => each.cylinder !== undefined);
  const traction = rowsOf(decoys.traction);
  const tipIn = rowsOf(both(decoys.tipIn, loaded));
  const pulls = drive.derive(PULLS);
  const pullBasis = isRefusal(pulls) ? 'load' : 'pedal';
  return {
    channels: retards.map((each) => {
      if (each.cylinder === undefined || cylinders.length < ALIKE_FROM) return { ...each, own: each.values, eligible };
      const own = ownOf(each, cylinders, traction);
      const alone = withOwn(eligible, own, settled, traction);
      return { ...each, own, eligible: withLone(alone, each, cylinders, tipIn) };
    }),
    loaded,
    eligible,
    speed,
    load,
    loadBasis,
    pulls: isRefusal(pulls) ? pullsByLoad(drive, loaded, load, loadBasis) : pulls,
    pullBasis,
    rate: pace.rate > 0 ? pace.rate : 1 / samples.spacing,
    rateCertain: pace.certain,
    blind: decoys.blind,
  };
}

/** 1 where a value reaches the limit; NaN does not. */
function atLeast(values: Float64Array, limit: number): Uint8Array {
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < mask.length; i++) if (values[i]! >= limit) mask[i] = 1;
  return mask;
}

/** Percent as a share. */
function hundredths(percent: Float64Array): Float64Array {
  const shares = new Float64Array(percent.length);
  for (let i = 0; i < shares.length; i++) shares[i] = percent[i]! / 100;
  return shares;
}

type Load = Pick<KnockSignal, 'load' | 'loadBasis'> & { readonly high: Uint8Array };

function loadOf(drive: Drive, samples: Samples): Load | Refusal {
  const fraction = drive.derive(LOAD_FRACTION);
  const { time } = drive;
  if (!isRefusal(fraction)) {
    if (fraction.basis === 'calculated-load') {
      // The derived mask knows when calculated load tells of high load; the map is drawn over the logged value.
      const logged = samples.held('engineLoad');
      const load = logged ? hundredths(logged) : new Float64Array(time.length).fill(Number.NaN);
      return { high: fraction.high, load, loadBasis: fraction.basis };
    }
    const load = heldValues(fraction.values, time);
    return { high: atLeast(load, KNOCK_LOAD), load, loadBasis: fraction.basis };
  }
  // No load channel: with the pedal down for a whole pull the load is high, whatever its number.
  const pulls = drive.derive(PULLS);
  if (isRefusal(pulls)) {
    return refuse(`high load cannot be told: ${fraction.reason}; ${pulls.reason}`, {
      channels: [...new Set([...fraction.missing.channels, ...pulls.missing.channels])],
      conditions: [...new Set([...fraction.missing.conditions, ...pulls.missing.conditions])],
    });
  }
  const high = new Uint8Array(time.length);
  for (const pull of pulls) high.fill(1, pull.start, pull.end + 1);
  return { high, load: new Float64Array(time.length).fill(Number.NaN), loadBasis: 'pedal' };
}

function pullsByLoad(drive: Drive, loaded: Uint8Array, load: Float64Array, basis: string): Segment[] {
  const mask = basis === 'calculated-load' ? loaded : both(loaded, atLeast(load, PULL_LOAD));
  return stretches(drive, mask, { minDuration: PULL_TIME, maxGap: 0.5 });
}

type Retard = Omit<KnockChannel, 'own' | 'eligible'>;

/** Rows at which a mask holds. */
function rowsOf(mask: Uint8Array): readonly number[] {
  const rows: number[] = [];
  for (let i = mask.indexOf(1); i >= 0; i = mask.indexOf(1, i + 1)) rows.push(i);
  return rows;
}

/** Retard of one cylinder less the least of all of them at the rows `traction`; the same array where that is nothing. */
function ownOf({ values }: Retard, cylinders: readonly Retard[], traction: readonly number[]): Float64Array {
  let own = values;
  for (const i of traction) {
    const left = values[i]! - Math.max(0, leastAt(cylinders, i));
    if (left === values[i]!) continue;
    if (own === values) own = values.slice();
    own[i] = left;
  }
  return own;
}

/** Least retard of all cylinders at row `i`; NaN where the first is not known. */
function leastAt(cylinders: readonly Retard[], i: number): number {
  let least = cylinders[0]!.values[i]!;
  for (const { values } of cylinders) if (values[i]! < least) least = values[i]!;
  return least;
}

/** `eligible`, and the rows under traction control in which the retard of a cylinder is its own. */
function withOwn(
  eligible: Uint8Array,
  own: Float64Array,
  settled: Uint8Array,
  traction: readonly number[],
): Uint8Array {
  return withRows(
    eligible,
    traction.filter((i) => settled[i] === 1 && own[i]! >= OWN),
  );
}

/**
 * A pedal that goes down shakes every cylinder; one that steps this far beyond all others (deg) knocks or ignites by
 * itself, as in pre-ignition. Common practice, no source.
 */
const LONE = 6;

/** `eligible`, and the rows of a tip-in under load in which this cylinder alone stands out. */
function withLone(
  eligible: Uint8Array,
  { cylinder, values }: Retard,
  cylinders: readonly Retard[],
  tipIn: readonly number[],
): Uint8Array {
  const others = cylinders.filter((each) => each.cylinder !== cylinder);
  if (others.length + 1 < ALIKE_FROM) return eligible;
  const lone = (i: number): boolean =>
    values[i]! >= LONE && others.every((each) => values[i]! - each.values[i]! >= LONE);
  return withRows(eligible, tipIn.filter(lone));
}

/** The mask with some more rows; the same where there are none. */
function withRows(mask: Uint8Array, rows: readonly number[]): Uint8Array {
  if (rows.length === 0) return mask;
  const more = mask.slice();
  for (const i of rows) more[i] = 1;
  return more;
}

function retardOf(channel: Channel, samples: Samples, speed: Float64Array, loaded: Uint8Array): Retard {
  const raw = samples.held(channel.id)!;
  const offset = learnedOffset(raw, speed, loaded, channel.quality.constant);
  return {
    id: channel.id,
    cylinder: cylinderOf(channel.id),
    values: offset === 0 ? raw : raw.map((v) => v - offset),
    offset,
    uncertainty: Math.min(channel.quality.quantum, COARSEST) / Math.sqrt(12),
    certainty: channel.certainty,
  };
}

/** Rows, evenly spread, that tell a steady offset as well as all of them. */
const ENOUGH = 50_000;

/**
 * Steady learned offset (deg): the retard that most running samples outside high load share. Knock comes and goes, a
 * learned offset stays; a retard that is there at high load only is never taken for one. 0 when none can be told.
 */
function learnedOffset(raw: Float64Array, speed: Float64Array, loaded: Uint8Array, constant: boolean): number {
  const every = Math.max(1, Math.floor(raw.length / ENOUGH));
  if (constant) {
    let i = 0;
    while (i < raw.length && Number.isNaN(raw[i]!)) i += every;
    return i < raw.length ? Math.max(raw[i]!, 0) : 0;
  }
  const quiet = quietOf(raw, speed, loaded, every);
  if (quiet.length < 20) return 0;
  const offset = orderStatistic(quiet, Math.floor(quiet.length / 2));
  let steady = 0;
  for (let i = 0; i < quiet.length; i++) if (Math.abs(quiet[i]! - offset) <= 0.5) steady++;
  return steady >= 0.6 * quiet.length && offset >= 0.5 ? offset : 0;
}

/** Retard of every n-th row with the engine running outside high load. */
function quietOf(raw: Float64Array, speed: Float64Array, loaded: Uint8Array, every: number): Float64Array {
  const kept = new Float64Array(Math.ceil(raw.length / every));
  let count = 0;
  for (let i = 0; i < raw.length; i += every)
    if (loaded[i] === 0 && speed[i]! > 500 && !Number.isNaN(raw[i]!)) kept[count++] = raw[i]!;
  return kept.subarray(0, count);
}
