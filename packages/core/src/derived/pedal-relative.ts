import { quantile } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { segmentsOf } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { type Samples, samplesOf } from './samples.js';
import { SPEED } from './speed.js';

export interface PedalRelative {
  /** % of travel, 0 = released. With `fullSeen` false these are lower bounds (full taken as 100 % of the raw scale). */
  readonly values: Float64Array;
  /** Raw value of the released pedal, %. */
  readonly rest: number;
  /** Raw value of the pedal on the floor, %. */
  readonly full: number;
  /** Channel it was made from. */
  readonly source: string;
  /**
   * True when the end of travel is known: it was seen, or the channel is scaled to 0..100 by the control unit and even
   * an early end of travel would leave everything that was pressed below a pull. False: conditions on a high pedal are
   * `unproven` where `values` do not reach them.
   */
  readonly fullSeen: boolean;
  /** Smallest step of `values`, %. */
  readonly quantum: number;
}

/** Real pedals reach the floor at 75 % of their raw scale or above (common practice; seen: 16 % rest, end below 90 %). */
const EARLIEST_FULL = 75;
/** A pull begins at 80 % of travel (see `segments`). */
const PULL = 0.8;

export const PEDAL_RELATIVE = recipe<PedalRelative>({
  id: 'pedalRelative',
  about:
    'Accelerator pedal in % of its travel, (raw - rest) / (full - rest): rest = 1st percentile at standstill, full = end of travel as seen.',
  compute(drive) {
    const samples = samplesOf(drive);
    const channel = pedalOf(drive);
    if (channel === undefined) {
      return refuse('no pedalRelative, because pedalPosition is absent', { channels: ['pedalPosition'] });
    }
    const raw = samples.held(channel.id)!;
    const rest = restOf(drive, raw);
    if (Number.isNaN(rest))
      return refuse(`no pedalRelative, because ${channel.id} holds no sample`, { channels: [channel.id] });
    const { full, seen } = fullOf(drive, samples, channel, raw, rest);
    if (!(full > rest))
      return refuse(`no pedalRelative, because ${channel.id} never moves from ${rest} %`, {
        conditions: ['pedal moved'],
      });
    const scale = 100 / (full - rest);
    const values = new Float64Array(raw.length);
    for (let i = 0; i < raw.length; i++) values[i] = Math.max(0, (raw[i]! - rest) * scale);
    return { values, rest, full, source: channel.id, fullSeen: seen, quantum: channel.quality.quantum * scale };
  },
});

/** The relative pedal of the control unit (service 01, PID 5A) before its raw tracks (49, 4A); one that moves before one that does not. */
function pedalOf(drive: Drive): Channel | undefined {
  const members = [...drive.family('pedalPositionRelative'), ...drive.family('pedalPosition')];
  const filled = members.filter((channel) => channel.quality.samples > 0);
  return filled.find((channel) => !channel.quality.constant) ?? filled[0];
}

/** 1st percentile at standstill; over the whole drive when the car hardly stood or nobody let go while it stood. */
function restOf(drive: Drive, raw: Float64Array): number {
  const overall = quantile(raw, 0.01);
  const speed = drive.derive(SPEED);
  if (isRefusal(speed)) return overall;
  const standing = below(raw, speed.values, speed.standing);
  if (standing.length < 20) return overall;
  const atStandstill = quantile(standing, 0.01);
  return overall < atStandstill - 2 ? overall : atStandstill;
}

/** Samples of `raw` in rows in which the speed lies below a limit. */
function below(raw: Float64Array, speed: Float64Array, limit: number): Float64Array {
  let count = 0;
  for (let i = 0; i < raw.length; i++) if (speed[i]! < limit && !Number.isNaN(raw[i]!)) count++;
  const found = new Float64Array(count);
  count = 0;
  for (let i = 0; i < raw.length; i++) if (speed[i]! < limit && !Number.isNaN(raw[i]!)) found[count++] = raw[i]!;
  return found;
}

interface FullTravel {
  readonly full: number;
  readonly seen: boolean;
}

/**
 * The end of travel is a stop: the pedal stands on one value there. Seen when the top was held (0.3 s and 3 rows, or
 * two fresh samples of a slow channel) at least twice, or once with most of the raw scale travelled.
 */
function fullOf(drive: Drive, samples: Samples, channel: Channel, raw: Float64Array, rest: number): FullTravel {
  let top = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < raw.length; i++) if (raw[i]! > top) top = raw[i]!;
  const travelled = top - rest;
  if (top >= 95) return { full: Math.min(top, 100), seen: true };
  const band = top - Math.max(1, channel.quality.quantum);
  const mask = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) if (raw[i]! >= band) mask[i] = 1;
  const interval = 1 / samples.hz(channel.id);
  const held = segmentsOf(mask, drive.time, { minDuration: Math.max(0.3, interval), maxStep: samples.maxStep });
  const separate = held.filter((segment, k) => k === 0 || segment.from - held[k - 1]!.to >= 3);
  const far = top >= EARLIEST_FULL;
  if (far && travelled >= 55 && separate.length >= 1) return { full: top, seen: true };
  if (far && travelled >= 40 && separate.length >= 2) return { full: top, seen: true };
  // Nobody pressed far enough for an early end of travel to matter.
  const scaled = rest <= 3;
  return { full: 100, seen: scaled && top - rest < PULL * (EARLIEST_FULL - rest) };
}
