import { CHANNELS } from './catalogue/index.js';
import type { ChannelDefinition } from './definition.js';
import { channelId, type Positions, parsePositions } from './positions.js';

const BY_ID: ReadonlyMap<string, ChannelDefinition> = new Map(
  CHANNELS.map((definition) => [definition.id, definition]),
);

export interface FoundChannel {
  readonly definition: ChannelDefinition;
  readonly positions: Positions;
}

/** The definition behind an id such as `oxygenSensorVoltage.bank1Sensor2`; undefined when there is none. */
export function findChannel(id: string): FoundChannel | undefined {
  const dot = id.indexOf('.');
  const definition = BY_ID.get(dot < 0 ? id : id.slice(0, dot));
  if (definition === undefined) return undefined;
  if (dot < 0) return { definition, positions: {} };
  const positions = parsePositions(id.slice(dot + 1));
  if (positions === undefined) return undefined;
  const kinds = Object.keys(positions) as (keyof Positions)[];
  if (!kinds.every((kind) => definition.positions.includes(kind))) return undefined;
  return channelId(definition.id, positions) === id ? { definition, positions } : undefined;
}

/** Edits (insert, delete, replace) between two short texts. */
function distance(a: string, b: string): number {
  let previous = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      row.push(Math.min(previous[j]! + 1, row[j - 1]! + 1, previous[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1)));
    }
    previous = row;
  }
  return previous[b.length]!;
}

/** Up to three channel ids that may have been meant, nearest first; empty when nothing is near. */
export function suggestChannel(text: string): string[] {
  const dot = text.indexOf('.');
  const base = (dot < 0 ? text : text.slice(0, dot)).slice(0, 60).toLowerCase();
  if (base === '') return [];
  const scored: { id: string; score: number }[] = [];
  for (const { id } of CHANNELS) {
    const name = id.toLowerCase();
    const part = base.length >= 4 && (name.includes(base) || base.includes(name)) ? 1 : 0;
    scored.push({ id, score: distance(base, name) - part * 4 });
  }
  scored.sort((a, b) => a.score - b.score);
  const limit = Math.max(2, Math.floor(base.length / 3));
  return scored
    .filter((entry) => entry.score <= limit)
    .slice(0, 3)
    .map(({ id }) => {
      const suffix = dot < 0 ? '' : text.slice(dot, 60);
      return suffix !== '' && findChannel(id + suffix) !== undefined ? id + suffix : id;
    });
}
