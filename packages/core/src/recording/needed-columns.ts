import type { Catalogue } from './catalogue.js';
import { channelCatalogue } from './channel-catalogue.js';
import { matchOverrides } from './column-map.js';
import type { ColumnMap, HeadColumn } from './raw.js';

/**
 * Which columns can become a channel, by their heading and the map file: 1 a column. The others are told as not recognised
 * or not kept, whatever they hold.
 */
export function neededColumns(
  columns: readonly HeadColumn[],
  map: ColumnMap | undefined,
  catalogue: Catalogue = channelCatalogue(),
): Uint8Array {
  const { overrides } = matchOverrides(columns, map);
  return Uint8Array.from(columns, (column) => {
    const channel = overrides.get(column.index)?.channel;
    if (channel === null) return 0;
    const recognised = catalogue.recognise(column).id;
    const facts = [channel, recognised].map((id) => (id === undefined ? undefined : catalogue.facts(id)));
    return facts.some((each) => each !== undefined && each.kind !== 'position' && each.kind !== 'time') ? 1 : 0;
  });
}
