import { YEAR } from './calendar.js';
import type { Look } from './looks.js';

/** What wear is counted in. */
export interface Axis {
  readonly kind: 'distance' | 'engineHours' | 'time';
  /** Of each look: km, h, or days from 1970-01-01; never falling. */
  readonly values: Float64Array;
  /** Values a year, over all looks; NaN where they span nothing. */
  readonly perYear: number;
  /** Readings that were lower than readings before them, or that later ones contradict: left out. */
  readonly dropped: number;
}

/** Share of the looks that has to tell the odometer or the hours. */
const KNOWN = 2 / 3;

/** Distance where most looks know it, else engine hours, else time. */
export function axisOf(looks: readonly Look[]): Axis {
  const days = Float64Array.from(looks, ({ day }) => day);
  const distance = counterAxis(
    'distance',
    days,
    looks.map((look) => look.distance),
  );
  if (distance !== undefined) return distance;
  const hours = counterAxis(
    'engineHours',
    days,
    looks.map((look) => look.engineHours),
  );
  if (hours !== undefined) return hours;
  return { kind: 'time', values: days, perYear: YEAR, dropped: 0 };
}

function counterAxis(kind: 'distance' | 'engineHours', days: Float64Array, raw: readonly number[]): Axis | undefined {
  const known = raw.flatMap((x, i) => (Number.isFinite(x) ? [i] : []));
  const kept = longestRising(known, raw);
  if (kept.length < 3 || kept.length < KNOWN * raw.length) return undefined;
  const first = kept[0]!;
  const last = kept.at(-1)!;
  const years = (days[last]! - days[first]!) / YEAR;
  const perYear = (raw[last]! - raw[first]!) / years;
  if (!(years > 0 && perYear > 0)) return undefined;
  const values = new Float64Array(days.length);
  let at = 0;
  for (let i = 0; i < values.length; i++) {
    while (at < kept.length && kept[at]! <= i) at++;
    const before = kept[at - 1];
    const after = kept[at];
    if (before === i) values[i] = raw[i]!;
    // Outside the known readings at the mean pace, between them in proportion to time.
    else if (before === undefined) values[i] = raw[first]! - (perYear * (days[first]! - days[i]!)) / YEAR;
    else if (after === undefined) values[i] = raw[last]! + (perYear * (days[i]! - days[last]!)) / YEAR;
    else {
      const share = (days[i]! - days[before]!) / (days[after]! - days[before]!);
      values[i] = raw[before]! + share * (raw[after]! - raw[before]!);
    }
  }
  return { kind, values, perYear, dropped: known.length - kept.length };
}

/** Longest run of places whose readings never fall: one wrong reading costs itself, not all that follow. */
function longestRising(places: readonly number[], raw: readonly number[]): number[] {
  const length = places.map(() => 1);
  const previous = places.map(() => -1);
  let best = -1;
  for (let i = 0; i < places.length; i++) {
    for (let j = 0; j < i; j++)
      if (raw[places[j]!]! <= raw[places[i]!]! && length[j]! + 1 > length[i]!) {
        length[i] = length[j]! + 1;
        previous[i] = j;
      }
    if (best < 0 || length[i]! > length[best]!) best = i;
  }
  const kept: number[] = [];
  for (let i = best; i >= 0; i = previous[i]!) kept.unshift(places[i]!);
  return kept;
}
