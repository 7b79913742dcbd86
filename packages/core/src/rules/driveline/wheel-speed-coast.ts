import { COAST_SPEED, type CoastDown } from '../../derived/coast-down.js';
import { normalQuantile, ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { levelOf, limitOf } from '../ladder.js';
import type { Limit, Measure, Observed, RuleEvent, Severity } from '../rule.js';
import { counted, figure } from '../wording.js';

/** Drives with a coast-down that make a comparison with the car's own usual. */
export const COAST_DRIVES = 3;
/** Share by which rolling differs from day to day with the warmth of tyres, bearings and oil. Common practice, no source. */
const DAYS = 0.05;

export interface Coast {
  readonly severity: Severity | undefined;
  readonly measures: Readonly<Record<string, Measure>>;
  readonly events: readonly RuleEvent[];
  /** What was seen, in words; empty where nothing could be compared. */
  readonly said: string;
  /** % beyond the limit, and standard uncertainty, %. */
  readonly margin: number;
  readonly u: number;
}

interface Seen {
  readonly coast: CoastDown | undefined;
}

/**
 * The drive that rolls worst against what is usual for this car: the second best of all drives, which one lucky drive with the
 * wind does not move. The worst of n drives was chosen, so each one is asked for the confidence of 1 - 0.05 / n (Bonferroni).
 */
export function coastOf(observed: readonly Observed<Seen>[], limits: Readonly<Record<string, Limit>>): Coast {
  const drives = observed
    .flatMap(({ input, observation: { coast } }) => (coast === undefined ? [] : [{ input, coast }]))
    .sort((a, b) => a.coast.deceleration - b.coast.deceleration);
  const [, usual] = drives;
  const worst = drives[drives.length - 1];
  if (drives.length < COAST_DRIVES || usual === undefined || worst === undefined || !(usual.coast.deceleration > 0)) {
    return { severity: undefined, measures: {}, events: [], said: '', margin: Number.NaN, u: Number.NaN };
  }
  const own = usual.coast.deceleration;
  const ratio = worst.coast.deceleration / own;
  const rise = 100 * (ratio - 1);
  const u =
    100 * Math.hypot(worst.coast.u / own, (ratio * usual.coast.u) / own, Math.SQRT2 * DAYS) * chosen(drives.length);
  const severity = levelOf(rise, u, limits, 'coast');
  const limit = limitOf(limits, 'watch', 'coast');
  const measures = {
    coastDown: { value: worst.coast.deceleration, unit: 'm/s2' },
    coastDownUsual: { value: own, unit: 'm/s2' },
    coastDownRise: { value: rise, unit: '%' },
  };
  const said = `rolling freely it slows down by ${figure(worst.coast.deceleration, 2)} m/s² at ${COAST_SPEED} km/h in the worst of ${counted(drives.length, 'drive')}, ${figure(rise, 0)} % more than usual for this car (${figure(own, 2)} m/s², limit ${figure(limit.value, 0)} %)`;
  const events =
    severity === undefined
      ? []
      : worst.coast.coasts.map(({ from, to }) => ({
          input: worst.input,
          from,
          to,
          severity,
          what: 'rolls worse than usual',
          peak: { value: worst.coast.deceleration, unit: 'm/s2' },
          usual: { value: own, unit: 'm/s2' },
          limit: { value: own * (1 + limit.value / 100), unit: 'm/s2' },
        }));
  return { severity, measures, events, said, margin: rise - limit.value, u };
}

/** Widens an uncertainty so that the usual bound of 95 % is one of 1 - 0.05 / n. */
function chosen(n: number): number {
  return normalQuantile(1 - 0.05 / n) / ONE_SIDED_95;
}
