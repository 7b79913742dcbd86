import { mean } from '../math/mean.js';
import { standardDeviation } from '../math/standard-deviation.js';
import { welch } from '../math/welch.js';
import { EVENT_MEASURES, type PassingEvent, type PassingEvents } from './events.js';
import type { EventResult, EventSummary } from './verification.js';

/** Events of each side from which a difference is told. */
const FEWEST = 3;

/** What passes quickly, side by side: one number an event. Differences are told (Welch), not tested. */
export function dynamicsOf(found: readonly PassingEvents[]): EventResult[] {
  const events = found.flatMap((each) => each.events);
  return EVENT_MEASURES.map(({ id, title, unit, about, kind }): EventResult => {
    const of = (side: PassingEvent['side']): PassingEvent[] =>
      events.filter((each) => each.side === side && each.values[id] !== undefined);
    const [before, after] = [of('before'), of('after')];
    const [a, b] = [before, after].map((all) => all.map(({ values }) => values[id]!));
    const difference = a!.length >= FEWEST && b!.length >= FEWEST ? welch(a!, b!) : undefined;
    const why = found.flatMap(({ refusals }) => refusals[kind]?.reason ?? []);
    return {
      id,
      title,
      unit,
      about,
      before: summaryOf(before, id),
      after: summaryOf(after, id),
      ...(difference === undefined
        ? {}
        : { difference: { value: difference.difference, low: difference.low, high: difference.high } }),
      notes: b!.length > 0 ? [] : [...new Set(why.length > 0 ? why : [NONE[kind]])],
    };
  });
}

const NONE: Readonly<Record<PassingEvent['kind'], string>> = {
  'tip-in': 'no tip-in that is not preceded by a fuel cut was recorded',
  shift: 'no upshift at high load was recorded',
};

function summaryOf(events: readonly PassingEvent[], id: string): EventSummary {
  const values = events.map((each) => each.values[id]!);
  if (values.length === 0) return { events: 0, mean: null, deviation: null };
  const worst = events.reduce((top, each) => (each.values[id]! > top.values[id]! ? each : top));
  return {
    events: values.length,
    mean: mean(values),
    deviation: values.length > 1 ? standardDeviation(values) : null,
    worst: { value: worst.values[id]!, input: worst.input, at: worst.at },
  };
}
