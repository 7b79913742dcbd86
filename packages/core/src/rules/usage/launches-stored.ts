import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';
import { counted, perThousand } from './launches-wording.js';

/** Counters at their end are full or unsupported. */
const FULL = [255, 65535, 4294967295];

/** Stored counter of one recording: first and last value, NaN when not recorded; odometer (km). */
export interface StoredCounter {
  /** Read out of memory beside the drives: it shows a state, not how the counter moves. */
  readonly readOut: boolean;
  readonly first: number;
  readonly last: number;
  readonly odometer: number;
}

export function storedOf(counter: Channel | undefined, odometer: Channel | undefined, readOut: boolean): StoredCounter {
  const numbers = (channel: Channel | undefined): Float64Array | undefined =>
    channel?.values.filter((v) => !Number.isNaN(v));
  const counts = numbers(counter);
  return {
    readOut,
    first: counts?.[0] ?? Number.NaN,
    last: counts?.[counts.length - 1] ?? Number.NaN,
    odometer: numbers(odometer)?.at(-1) ?? Number.NaN,
  };
}

/** What the stored counters of all recordings say. */
export interface Stored {
  /** NaN when not recorded, full or unsupported. */
  readonly last: number;
  readonly perThousand: number;
  readonly measures: Readonly<Record<string, { readonly value: number; readonly unit?: string }>>;
  readonly notes: readonly string[];
}

export function storedResult(all: readonly StoredCounter[], seen: number): Stored {
  const counts = all.filter((s) => !Number.isNaN(s.last));
  const none = { last: Number.NaN, perThousand: Number.NaN, measures: {}, notes: [] };
  if (counts.length === 0) return none;
  const last = Math.max(...counts.map((s) => s.last));
  if (FULL.includes(last))
    return { ...none, notes: [`Stored launch counter reads ${last}: full or not supported, left out.`] };
  const odometer = Math.max(0, ...all.map((s) => s.odometer).filter((km) => km > 0));
  const perThousandKm = odometer > 0 ? (1000 * last) / odometer : Number.NaN;
  const grown = counts.reduce((sum, s) => sum + Math.max(0, s.last - s.first), 0);
  const notes: string[] = [];
  const moving = counts.some((s) => !s.readOut);
  const readings = counts.filter((s) => s.readOut).map((s) => s.last);
  const between = readings.length > 1 ? Math.max(...readings) - Math.min(...readings) : Number.NaN;
  if (moving && grown !== seen)
    notes.push(`The stored counter grew by ${grown} while ${seen} were seen: it counts by its own rules.`);
  if (between > 0) notes.push(`Between the read-outs the stored counter grew by ${between}; ${seen} were seen.`);
  if (last < seen)
    notes.push(
      `The stored counter stands at ${last} although ${seen} were seen: it counts by its own rules, or was set back.`,
    );
  if (Number.isNaN(perThousandKm)) notes.push('Odometer not recorded: the stored counter is judged by its total only.');
  return {
    last,
    perThousand: perThousandKm,
    measures: {
      storedLaunches: { value: last },
      ...(Number.isNaN(perThousandKm) ? {} : { storedPerThousandKm: { value: perThousandKm } }),
    },
    notes,
  };
}

export function storedSeverity(
  stored: Stored,
  named: Readonly<Record<string, Limit>>,
): { severity: 'watch' | 'repair'; words: string } | undefined {
  const { last, perThousand: rate } = stored;
  const each = `Stored counter: ${counted(last, 'launch')}, ${perThousand(rate)} per 1000 km`;
  if (rate > named.storedRepair!.value)
    return { severity: 'repair', words: `${each} (repair beyond ${named.storedRepair!.value})` };
  if (last > named.storedTotal!.value) {
    return {
      severity: 'repair',
      words: `Stored counter: ${counted(last, 'launch')} (repair beyond ${named.storedTotal!.value} in all)`,
    };
  }
  if (rate > named.storedWatch!.value)
    return { severity: 'watch', words: `${each} (watch beyond ${named.storedWatch!.value})` };
  return undefined;
}
