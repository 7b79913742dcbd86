import type { ChannelDefinition } from './definition.js';
import type { Place } from './place.js';

export interface Placement {
  readonly place?: Place;
  /** `1` before, `2` behind the catalyst, for channels that number sensors so. */
  readonly sensor?: string;
  /** Words of the heading that say so. */
  readonly words: ReadonlySet<string>;
}

const NONE: Placement = Object.freeze({ words: new Set<string>() });

function found(words: readonly string[], place: Place): Placement {
  return { place, words: new Set(words) };
}

/** The noun that `before` or `after` belongs to, in either order of words. */
function sided(words: ReadonlySet<string>, side: 'before' | 'after', ...nouns: readonly string[]): string | undefined {
  return words.has(side) ? nouns.find((noun) => words.has(noun)) : undefined;
}

/** Where the heading says that a pressure or temperature is measured. */
export function findPlace(
  definition: ChannelDefinition,
  words: ReadonlySet<string>,
  required: ReadonlySet<string>,
): Placement {
  const { system, quantity } = definition;
  const numbered = definition.positions.includes('bank') && definition.positions.includes('sensor');
  if (numbered && (system === 'exhaust' || definition.quantity === 'mixture')) {
    for (const side of ['before', 'after'] as const) {
      if (!words.has(side)) continue;
      if (words.has('turbine') || words.has('turbo')) break;
      return { sensor: side === 'before' ? '1' : '2', words: new Set([side, 'catalyst']) };
    }
  }
  if (quantity !== 'pressure' && quantity !== 'temperature') return NONE;
  if (system === 'exhaust') {
    const before = sided(words, 'before', 'turbine', 'turbo');
    if (before !== undefined) return found(['before', before], 'before-turbine');
    const after = sided(words, 'after', 'turbine', 'turbo');
    if (after !== undefined) return found(['after', after], 'after-turbine');
    if (required.has('turbine')) return found([], required.has('outlet') ? 'after-turbine' : 'before-turbine');
    if (required.has('manifold')) return found([], 'before-turbine');
  }
  if (system === 'air') {
    const compressor = sided(words, 'before', 'compressor', 'turbo');
    if (compressor !== undefined) return found(['before', compressor], 'before-compressor');
    if (words.has('before') && words.has('throttle')) return found(['before', 'throttle'], 'before-throttle');
    if (words.has('after') && words.has('throttle')) return found(['after', 'throttle'], 'manifold');
    if (words.has('after') && words.has('intercooler')) return found(['after', 'intercooler'], 'before-throttle');
    if (words.has('after') && words.has('cooler'))
      return found(['after', 'cooler', 'charge', 'air'], 'before-throttle');
    if (words.has('manifold')) return found(['manifold'], 'manifold');
    if (required.has('throttle') && required.has('intake')) return found([], 'before-throttle');
  }
  if (definition.id === 'transmissionOilTemperature') {
    if (words.has('cooler') && words.has('intake')) return found(['cooler', 'intake'], 'cooler-inlet');
    // What leaves the converter goes to the cooler: the same fluid, with its heat of shear.
    if (words.has('converter') && words.has('outlet')) return found(['converter', 'outlet'], 'cooler-inlet');
    if (words.has('clutch') && words.has('outlet')) return found(['clutch', 'outlet'], 'clutch-outlet');
    if (words.has('sump') || words.has('pan')) return found(['sump', 'pan'], 'sump');
  }
  if (definition.id === 'engineOilTemperature' && (words.has('sump') || words.has('pan')))
    return found(['sump', 'pan'], 'sump');
  return NONE;
}
