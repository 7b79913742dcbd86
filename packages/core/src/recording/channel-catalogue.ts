import { findChannel, inferUnit, recogniseColumn, stateValue, suggestChannel } from '../channels/index.js';
import type { Catalogue } from './catalogue.js';
import { factsOf } from './channel-facts.js';

/** The library's own channel knowledge behind the interface that the reading of columns uses. */
export function channelCatalogue(): Catalogue {
  return {
    recognise: (column) => {
      const { channel, certainty, unit, gauge, place, reason, candidates } = recogniseColumn(column);
      if (channel === undefined) return { id: undefined, unit, gauge, place: undefined, reason, candidates };
      return { id: channel, certainty: certainty ?? 'likely', unit, gauge, place, reason };
    },
    facts: (id) => {
      const definition = findChannel(id)?.definition;
      return definition === undefined ? undefined : factsOf(definition, id);
    },
    inferUnit: (id, values, gauge) => {
      const definition = findChannel(id)?.definition;
      if (definition === undefined) return { unit: undefined, candidates: [], reason: `no channel ${id}` };
      return inferUnit(definition, values, gauge);
    },
    state: (base, text) => stateValue(base, text),
    suggest: (text) => suggestChannel(text)[0],
  };
}
