import type { Channel } from '../recording/recording.js';

/** NaN without a channel or a sample. The last sample: what a counter or a stored value stood at in the end. */
export function lastValue(channel: Channel | undefined): number {
  if (channel === undefined) return Number.NaN;
  for (let i = channel.values.length - 1; i >= 0; i--) if (!Number.isNaN(channel.values[i]!)) return channel.values[i]!;
  return Number.NaN;
}
