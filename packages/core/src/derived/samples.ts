import { median } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { type Segment, type SegmentOptions, segmentsOf } from './intervals.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
import { freshIndices, freshRate, heldValues } from './refresh.js';

/** What every derivation needs of logged channels, computed once per channel. */
export interface Samples {
  /** Seconds between rows (median). */
  readonly spacing: number;
  /** A step of the time axis longer than this is a gap (s). */
  readonly maxStep: number;
  /** Values with empty cells held over (two own intervals at most); undefined when absent. */
  held(id: string): Float64Array | undefined;
  /** Rows at which the channel was measured anew; empty when absent. */
  fresh(id: string): Int32Array;
  /** Fresh values per second: own, else group, else rows per second. */
  hz(id: string): number;
}

export const SAMPLES = recipe<Samples>({
  id: 'samples',
  about:
    'Held and fresh samples of each channel: empty cells are held for two own intervals at most; repeats of one measurement count once.',
  compute(drive) {
    const { time, recording } = drive;
    const spacing = rowSpacing(time);
    const held = new Map<string, Float64Array>();
    const fresh = new Map<string, Int32Array>();
    const hz = (id: string): number => {
      const channel = recording.channels.get(id);
      const rate = channel === undefined ? Number.NaN : freshRate(channel).hz;
      return rate > 0 ? rate : 1 / spacing;
    };
    return {
      spacing,
      maxStep: Math.max(3 * spacing, 2.5),
      hz,
      held(id) {
        const channel = recording.channels.get(id);
        if (channel === undefined) return undefined;
        let values = held.get(id);
        if (values === undefined) {
          values = isFull(channel) ? channel.values : heldValues(channel.values, time);
          held.set(id, values);
        }
        return values;
      },
      fresh(id) {
        const channel = recording.channels.get(id);
        if (channel === undefined) return new Int32Array(0);
        let rows = fresh.get(id);
        if (rows === undefined) {
          rows = freshIndices(channel.values, time, hz(id), isFull(channel));
          fresh.set(id, rows);
        }
        return rows;
      },
    };
  },
});

/** No cell is known to be empty. */
function isFull({ quality, values }: Channel): boolean {
  return quality.samples === values.length;
}

/** The recipe refuses never; this only tells the compiler so. */
export function samplesOf(drive: Drive): Samples {
  const samples = drive.derive(SAMPLES);
  if (isRefusal(samples)) throw new Error(samples.reason);
  return samples;
}

/** Held values of a channel, or the refusal that names it. */
export function heldOf(drive: Drive, id: string, what: string): Float64Array | Refusal {
  return samplesOf(drive).held(id) ?? refuse(`no ${what}, because ${id} is absent`, { channels: [id] });
}

/** Segments of a mask that never cross a gap of the recording. */
export function stretches(drive: Drive, mask: Uint8Array, options: SegmentOptions = {}): Segment[] {
  return segmentsOf(mask, drive.time, { maxStep: samplesOf(drive).maxStep, ...options });
}

function rowSpacing(time: Float64Array): number {
  const n = time.length;
  if (n < 2) return 1;
  const stride = Math.max(1, Math.floor((n - 1) / 4096));
  const steps: number[] = [];
  for (let i = 1; i < n; i += stride) steps.push(time[i]! - time[i - 1]!);
  return median(steps);
}
