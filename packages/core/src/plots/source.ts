import { findChannel } from '../channels/lookup.js';
import { spoken } from '../channels/spoken.js';
import { STATES, type StateTable } from '../channels/states.js';
import type { Drive } from '../derived/recipe.js';
import type { Channel } from '../recording/recording.js';

/** A quantity row by row, before it is thinned. */
export interface Source {
  readonly id: string;
  /** Id without position: `knockRetard`. */
  readonly family: string;
  readonly name: string;
  readonly unit: string;
  readonly drawn: 'line' | 'steps';
  /** One a row; NaN = no sample. */
  readonly values: Float64Array;
  readonly bridge: number;
  /** A difference: on an axis of its own, not with what it is the difference of. */
  readonly apart?: boolean;
  /** Words of a state by its value. */
  readonly states?: Readonly<Record<string, string>>;
}

/** A line goes on over this many spacings of the channel's samples, and no longer than so many seconds. */
const BRIDGE = { spacings: 4, least: 0.5, most: 30 } as const;

/** A recorded channel, or undefined where it cannot be drawn over time: stored, counted once, or without a sample. */
export function channelSource(drive: Drive, channel: Channel): Source | undefined {
  const found = findChannel(channel.id);
  const kind = found?.definition.kind;
  if (kind === undefined || kind === 'stored' || kind === 'time' || kind === 'position') return undefined;
  if (channel.quality.samples < 2) return undefined;
  const spacing = drive.recording.duration / channel.quality.samples;
  const states = kind === 'state' ? STATES[found!.definition.id] : kind === 'flag' ? STATES.flag : undefined;
  return {
    id: channel.id,
    family: channel.id.split('.')[0]!,
    name: spoken(channel.id),
    unit: channel.unit,
    drawn: kind === 'state' || kind === 'flag' ? 'steps' : 'line',
    values: channel.values,
    bridge: bridgeOf(spacing),
    ...(states === undefined ? {} : { states: wordsOf(states) }),
  };
}

/** `{ off: 0, on: 1 }` -> `{ 0: 'off', 1: 'on' }` */
function wordsOf(states: StateTable): Record<string, string> {
  return Object.fromEntries(Object.entries(states).map(([word, value]) => [String(value), word]));
}

/** A quantity that was computed row by row. */
export function derivedSource(drive: Drive, id: string, name: string, unit: string, values: Float64Array): Source {
  const spacing = drive.recording.duration / Math.max(1, drive.recording.rows);
  return { id, family: id.split('.')[0]!, name, unit, drawn: 'line', values, bridge: bridgeOf(spacing) };
}

function bridgeOf(spacing: number): number {
  return Math.min(BRIDGE.most, Math.max(BRIDGE.least, BRIDGE.spacings * spacing));
}
