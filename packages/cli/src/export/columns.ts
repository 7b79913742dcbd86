import { type Channel, type Recording, STATES, stateLabel } from '@telltale/core';

/** One column of an export: numbers (NaN = no sample), or the words of a state. */
export interface ExportColumn {
  readonly name: string;
  readonly values: Float64Array;
  /** Word of a code; absent for numbers. */
  readonly word?: (code: number) => string;
}

/**
 * Time and channels in the order of the recording. Names are `id [unit]`, which this tool reads back; channels whose
 * values are states (selector, drive mode, …) are written in words, all others in their catalogue unit.
 */
export function exportColumns(recording: Recording): ExportColumn[] {
  const columns: ExportColumn[] = [{ name: 'time [s]', values: recording.time }];
  for (const channel of recording.channels.values()) columns.push(columnOf(channel));
  return columns;
}

function columnOf(channel: Channel): ExportColumn {
  const base = channel.id.split('.')[0]!;
  const name = channel.unit === '' || channel.unit === '1' ? channel.id : `${channel.id} [${channel.unit}]`;
  const states = base !== 'gear' && base !== 'flag' && Object.hasOwn(STATES, base);
  if (!states) return { name, values: channel.values };
  return { name, values: channel.values, word: (code) => stateLabel(base, code) ?? String(code) };
}
