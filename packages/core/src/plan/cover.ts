import type { Phase } from './phase.js';
import { SETTLED_BY } from './settled-by.js';

/**
 * The phases that settle every rule that these phases can settle, in the fewest minutes; of equally long sets the one
 * with fewer phases, then the one that comes first in driving order. Every set is tried: there are few phases.
 * Driving order; empty when there is nothing to settle. At most 20 phases, else RangeError.
 * @param rules ids of the rules to settle
 */
export function shortestCover(phases: readonly Phase[], rules: Iterable<string>): Phase[] {
  if (phases.length > 20) throw new RangeError(`shortestCover: found ${phases.length} phases, expected at most 20`);
  const bit = new Map(phases.map(({ id }, k) => [id, 1 << k]));
  // Of each rule the alternatives as sets of bits; those with a phase that is not offered are none.
  const wanted = [...rules]
    .map((rule) =>
      (SETTLED_BY[rule] ?? []).filter((set) => set.every((id) => bit.has(id))).map((set) => maskOf(set, bit)),
    )
    .filter((alternatives) => alternatives.length > 0);
  if (wanted.length === 0) return [];
  let best = -1;
  let least = Number.POSITIVE_INFINITY;
  let fewest = Number.POSITIVE_INFINITY;
  for (let set = 1; set < 1 << phases.length; set++) {
    let minutes = 0;
    let count = 0;
    for (let k = 0; k < phases.length; k++) {
      if ((set & (1 << k)) === 0) continue;
      minutes += phases[k]!.minutes;
      count++;
    }
    if (minutes > least || (minutes === least && count >= fewest)) continue;
    if (!wanted.every((alternatives) => alternatives.some((mask) => (mask & set) === mask))) continue;
    [best, least, fewest] = [set, minutes, count];
  }
  return phases.filter((_, k) => (best & (1 << k)) !== 0);
}

function maskOf(ids: readonly string[], bit: ReadonlyMap<string, number>): number {
  return ids.reduce((mask, id) => mask | bit.get(id)!, 0);
}
