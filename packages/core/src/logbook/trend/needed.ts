import { dateOf, YEAR } from './calendar.js';
import type { Needed } from './car-trend.js';
import { INSEPARABLE, type Moment, YEAR_SEEN } from './moment.js';
import { DRIFT_LOOKS } from './shape.js';
import { seasonCorrelation } from './weather.js';

/** Days between the looks that are asked for. */
const MONTH = YEAR / 12;

/** What has to come before there is an answer; null where there is one. */
export function neededFor({ withheld, days, start, baselines, problem }: Moment): Needed | null {
  if (withheld === undefined) return null;
  const last = days.at(-1)!;
  if (withheld === 'too few drives') {
    const looks = Math.max(1, DRIFT_LOOKS - (days.length - start), problem.nuisance.length + 3 - days.length);
    return { looks, until: null };
  }
  if (withheld === 'less than a year') {
    const left = days[0]! + YEAR_SEEN - last;
    return { looks: Math.max(1, Math.ceil(left / MONTH)), until: dateOf(Math.ceil(days[0]! + YEAR_SEEN)) };
  }
  // A yearly wave without weather of its own is the hardest case: what it leaves apart, real seasons leave too.
  for (let more = 1; more <= 24; more++) {
    const longer = Float64Array.from({ length: days.length + more }, (_, i) =>
      i < days.length ? days[i]! : last + (i - days.length + 1) * MONTH,
    );
    const from = longer[start]!;
    const of = baselines.map((column) =>
      Float64Array.from(longer, (_, i) => (i < days.length ? column[i]! : column.at(-1)!)),
    );
    const waves = [longer.map((day) => Math.cos((2 * Math.PI * (day - 15)) / YEAR))];
    const drift = longer.map((day, i) => (i >= start ? day - from : 0));
    if (seasonCorrelation(waves, of)(drift) <= INSEPARABLE) return { looks: more, until: dateOf(longer.at(-1)!) };
  }
  return { looks: null, until: null };
}
