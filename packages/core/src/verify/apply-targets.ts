import { findChannel } from '../channels/index.js';
import { heldValues } from '../derived/refresh.js';
import { interpolate } from '../math/interpolate.js';
import type { Channel, Recording } from '../recording/recording.js';
import type { TargetChannel, Targets, TargetTable } from './targets-file.js';

/** Where the recorded lambdaTarget is kept when the user states one: what it asks for beyond the map is protection. */
export const RECORDED_TARGET = 'recordedLambdaTarget';

/**
 * The recording with the targets of a file in the place of recorded ones: what is asked is whether the car does what the
 * tuner wants, not whether it does what it asks of itself.
 */
export function applyTargets(recording: Recording, targets: Targets | undefined): Recording {
  if (targets === undefined || targets.targets.size === 0) return recording;
  const speed = recording.channels.get('engineSpeed');
  if (speed === undefined) return recording;
  const channels = new Map(recording.channels);
  const rpm = heldValues(speed.values, recording.time);
  for (const [id, table] of targets.targets) {
    const load = table.load === undefined ? undefined : recording.channels.get(table.load.channel);
    // Without its load axis a table says nothing about this recording.
    if (table.load !== undefined && load === undefined) continue;
    const recorded =
      id === 'lambdaTarget' ? [...channels.values()].find(({ id: each }) => each.startsWith(id)) : undefined;
    if (recorded !== undefined) channels.set(RECORDED_TARGET, { ...recorded, id: RECORDED_TARGET });
    for (const known of [...channels.keys()]) if (known === id || known.startsWith(`${id}.`)) channels.delete(known);
    const held = load === undefined ? undefined : heldValues(load.values, recording.time);
    channels.set(id, channelOf(id, table, rpm, held, speed));
  }
  return { ...recording, channels };
}

function channelOf(
  id: TargetChannel,
  table: TargetTable,
  rpm: Float64Array,
  load: Float64Array | undefined,
  speed: Channel,
): Channel {
  const values = new Float64Array(rpm.length);
  for (let i = 0; i < values.length; i++) values[i] = targetAt(table, rpm[i]!, load?.[i] ?? Number.NaN);
  const unit = findChannel(id)?.definition.unit ?? '';
  return {
    id,
    unit,
    values,
    source: 'targets file',
    sourceUnit: unit,
    certainty: 'user',
    quality: {
      ...speed.quality,
      quantum: 0,
      removed: { sentinel: 0, implausible: 0, spike: 0 },
      frozen: [],
      saturated: [],
      // A target that is the same everywhere is still one.
      constant: false,
    },
  };
}

/** NaN in gives NaN; between points linear, beyond the ends the last value. */
export function targetAt({ engineSpeed, load, values }: TargetTable, rpm: number, at: number): number {
  if (Number.isNaN(rpm)) return Number.NaN;
  if (load === undefined || load.points.length === 1) return interpolate(rpm, engineSpeed, values[0]!);
  if (Number.isNaN(at)) return Number.NaN;
  return interpolate(
    at,
    load.points,
    values.map((row) => interpolate(rpm, engineSpeed, row)),
  );
}
