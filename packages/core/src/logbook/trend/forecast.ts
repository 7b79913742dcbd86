import { mixtureProbability } from '../../math/student-mixture.js';
import { dateOf, YEAR } from './calendar.js';
import { type Line, levelsOf } from './lines.js';

/** A bound that may not exist: null = not within the horizon. */
export interface Crossing {
  /** On the axis of wear (km, h; null where wear is counted in time) and as a date. */
  readonly earliest: { readonly axis: number | null; readonly date: string };
  readonly middle: { readonly axis: number | null; readonly date: string } | null;
  readonly latest: { readonly axis: number | null; readonly date: string } | null;
}

export interface Forecast {
  readonly limit: number;
  /** Probability that the level is beyond the limit already. */
  readonly beyond: number;
  /** 95 % interval of when the level crosses the limit if it goes on as it does; null where even the earliest lies out of sight. */
  readonly crossing: Crossing | null;
}

/** How far ahead is looked, in years. */
export const HORIZON = 20;

/** How time and wear run. */
export interface Pace {
  /** Now, in years' worth on the axis, and in days from 1970-01-01. */
  readonly years: number;
  readonly day: number;
  /** Axis value of 0 years' worth, and values a year; NaN where wear is counted in time. */
  readonly origin: number;
  readonly perYear: number;
  /** Standard error of the pace, as a share of it. */
  readonly error: number;
}

/**
 * When the level in mean weather crosses the limit: each shape that may be going on is prolonged with its own
 * uncertainty, and all count by their belief, so the interval holds what is not known of slope, onset and
 * autocorrelation (inverse prediction; E. C. Fieller, J. R. Statist. Soc. B 16 (1954) 175; averaged over models:
 * Hoeting, Madigan, Raftery & Volinsky, Statistical Science 14 (1999) 382; from memory). A slope that may be 0 gives an
 * interval without an end.
 * @param sign 1 where higher is worse; the limit is in the same sense
 */
export function forecastOf(lines: readonly Line[], limit: number, sign: 1 | -1, pace: Pace): Forecast {
  const beyond = (ahead: number): number =>
    1 - mixtureProbability(levelsOf(lines, pace.years + ahead, sign), sign * limit);
  const first = (p: number): number | undefined => {
    let before = 0;
    if (beyond(0) >= p) return 0;
    for (let ahead = 1 / 24; ahead <= HORIZON; ahead *= 1.15) {
      if (beyond(ahead) < p) {
        before = ahead;
        continue;
      }
      let low = before;
      let high = ahead;
      for (let k = 0; k < 40; k++) {
        const middle = (low + high) / 2;
        if (beyond(middle) < p) low = middle;
        else high = middle;
      }
      return high;
    }
    return undefined;
  };
  const [earliest, middle, latest] = [first(0.025), first(0.5), first(0.975)];
  const at = (ahead: number, days: number) => ({
    axis: Number.isNaN(pace.perYear) ? null : pace.origin + (pace.years + ahead) * pace.perYear,
    date: dateOf(pace.day + days * YEAR),
  });
  // Wear and pace err independently: their reaches add in squares about the middle, where there is one.
  const drift = 1.96 * pace.error;
  const early = (ahead: number): number =>
    middle === undefined ? ahead / (1 + drift) : middle - Math.hypot(middle - ahead, middle * Math.min(1, drift));
  const late = (ahead: number): number => (middle ?? ahead) + Math.hypot(ahead - (middle ?? ahead), ahead * drift);
  return {
    limit,
    beyond: beyond(0),
    crossing:
      earliest === undefined
        ? null
        : {
            earliest: at(earliest, Math.max(0, early(earliest))),
            middle: middle === undefined ? null : at(middle, middle),
            latest: latest === undefined ? null : at(latest, late(latest)),
          },
  };
}
