import type { Odometer } from '../../recording/read-out.js';

/** Unit slips: the same distance in miles. */
const MILE = 1.609344;

/** What kind of disagreement it is: it decides causes, advice and severity. */
type Kind = 'instrument' | 'exchanged' | 'event' | 'miles';

export const REASONS: Readonly<
  Record<Kind, { readonly causes: readonly string[]; readonly advice: readonly string[] }>
> = {
  instrument: {
    causes: ['instrument changed to show less', 'instrument exchanged for one with less distance'],
    advice: [
      'Do not go by the number on the instrument: take the largest distance.',
      'Ask for service bills and inspection reports with their distances, and for the bill of an exchanged instrument.',
    ],
  },
  exchanged: {
    causes: ['control unit exchanged for a new or used one', 'control unit programmed anew'],
    advice: [
      'Ask when and why the unit was exchanged, and whether the one now fitted belongs to this car.',
      'Compare with service bills and inspection reports.',
    ],
  },
  event: {
    causes: ['instrument changed to show less', 'control unit taken from another car'],
    advice: [
      'Ask for service bills and inspection reports with their distances.',
      'Take the largest distance for the price.',
    ],
  },
  miles: {
    causes: ['one unit was read in miles', 'instrument of another country fitted'],
    advice: ['Read both distances again with their units.'],
  },
};

interface Compared {
  readonly low: Odometer;
  readonly high: Odometer;
  readonly difference: number;
  readonly kind: Kind;
}

/** The pair that disagrees most, when it does beyond both limits. */
export function compare(
  present: readonly Odometer[],
  bound: readonly Odometer[],
  percent: number,
  km: number,
): Compared | undefined {
  const beyond = (difference: number, of: number): boolean => difference > km && (100 * difference) / of > percent;
  const low = present.reduce<Odometer | undefined>((a, b) => (a === undefined || b.value < a.value ? b : a), undefined);
  const high = present.reduce<Odometer | undefined>(
    (a, b) => (a === undefined || b.value > a.value ? b : a),
    undefined,
  );
  if (low === undefined || high === undefined) return undefined;
  const instrument = present.find(({ where }) => isInstrument(where));
  if (instrument !== undefined && beyond(high.value - instrument.value, high.value))
    return {
      low: instrument,
      high,
      difference: high.value - instrument.value,
      kind: milesOr(instrument, high, 'instrument'),
    };
  if (beyond(high.value - low.value, high.value)) {
    return {
      low,
      high,
      difference: high.value - low.value,
      kind: milesOr(low, high, instrument === undefined && present.length === 2 ? 'instrument' : 'exchanged'),
    };
  }
  const event = bound.reduce<Odometer | undefined>((a, b) => (a === undefined || b.value > a.value ? b : a), undefined);
  if (event !== undefined && beyond(event.value - high.value, event.value))
    return { low: high, high: event, difference: event.value - high.value, kind: milesOr(high, event, 'event') };
  return undefined;
}

function milesOr(low: Odometer, high: Odometer, kind: Kind): Kind {
  return Math.abs(high.value / low.value / MILE - 1) < 0.003 ? 'miles' : kind;
}

function isInstrument(where: string): boolean {
  return /instrument|cluster|dash|speedo/i.test(where) || where === 'odometer';
}

/** The highest reading of each control unit: an older read-out is no disagreement. */
export function newest(readings: readonly Odometer[]): Odometer[] {
  const byUnit = new Map<string, Odometer>();
  for (const each of readings) {
    const key = isInstrument(each.where) ? 'instrument' : each.where.toLowerCase();
    const before = byUnit.get(key);
    if (before === undefined || each.value > before.value) byUnit.set(key, each);
  }
  return [...byUnit.values()];
}

export function spreadOf(present: readonly Odometer[]): number {
  const values = present.map(({ value }) => value);
  return Math.max(...values) - Math.min(...values);
}
