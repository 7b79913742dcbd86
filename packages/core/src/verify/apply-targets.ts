import { findChannel } from '../channels/index.js';
import { heldValues } from '../derived/refresh.js';
import { interpolate } from '../math/interpolate.js';
import type { Channel, Recording } from '../recording/recording.js';
import type { TargetChannel, Targets, TargetTable } from './targets-file.js';

/** Where the recorded lambdaTarget is kept when the user states one: what it asks for beyond the map is protection. */
export const RECORDED_TARGET = 'recordedLambdaTarget';

/** Told over engine speed alone, these are what is wanted with the pedal on the floor: part load asks for something else. */
const FULL_LOAD: readonly TargetChannel[] = [
  'lambdaTarget',
  'boostPressureTarget',
  'manifoldPressureTarget',
  'ignitionAdvanceTarget',
  'engineTorqueTarget',
];

/** True when the rows at full load have to be known: a table holds for them alone. */
export function asksFullLoad(targets: Targets | undefined): boolean {
  return FULL_LOAD.some((id) => {
    const table = targets?.targets.get(id);
    return table !== undefined && table.load === undefined;
  });
}

/**
 * The recording with the targets of a file in the place of recorded ones: what is asked is whether the car does what the
 * tuner wants, not whether it does what it asks of itself.
 * @param full 1 where the pedal is on the floor, row by row; elsewhere a table of lambda, boost, ignition or torque without a
 * load axis leaves the recorded target, or none
 */
export function applyTargets(recording: Recording, targets: Targets | undefined, full?: Uint8Array): Recording {
  if (targets === undefined || targets.targets.size === 0) return recording;
  const speed = recording.channels.get('engineSpeed');
  if (speed === undefined) return recording;
  const channels = new Map(recording.channels);
  const rpm = heldValues(speed.values, recording.time);
  for (const [id, table] of targets.targets) {
    const load = table.load === undefined ? undefined : recording.channels.get(table.load.channel);
    // Without its load axis a table says nothing about this recording.
    if (table.load !== undefined && load === undefined) continue;
    const recorded = [...channels.values()].find(({ id: each }) => each === id || each.startsWith(`${id}.`));
    if (recorded !== undefined && id === 'lambdaTarget')
      channels.set(RECORDED_TARGET, { ...recorded, id: RECORDED_TARGET });
    for (const known of [...channels.keys()]) if (known === id || known.startsWith(`${id}.`)) channels.delete(known);
    const held = load === undefined ? undefined : heldValues(load.values, recording.time);
    const stated = channelOf(id, table, rpm, held, speed);
    if (table.load === undefined && FULL_LOAD.includes(id)) {
      const own = recorded === undefined ? undefined : heldValues(recorded.values, recording.time);
      for (let i = 0; i < stated.values.length; i++) if (full?.[i] !== 1) stated.values[i] = own?.[i] ?? Number.NaN;
    }
    channels.set(id, stated);
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
