import type { OwnershipSpec } from './ownership.js';
import { type Trial, trialOf } from './trial.js';

/** A kind of ownership that is simulated many times, and what is asked of it. */
export interface Scenario {
  readonly id: string;
  readonly what: string;
  readonly spec: Omit<OwnershipSpec, 'seed'>;
  /** What is counted: the drift found by the last drive, or any false alarm. */
  readonly counts: 'found' | 'false';
  readonly asked?: string;
}

const MEASURES = 20;
const drift = (
  rate: number,
  drives: number,
  more: Partial<OwnershipSpec> & { onset?: number; rebaselined?: boolean } = {},
): Omit<OwnershipSpec, 'seed'> => {
  const { onset = 0, rebaselined = false, ...spec } = more;
  return { measures: MEASURES, drives, rho: 0, drift: { rate, onset, rebaselined }, ...spec };
};
const none = (more: Partial<OwnershipSpec> = {}): Omit<OwnershipSpec, 'seed'> => ({
  measures: MEASURES,
  drives: 36,
  rho: 0,
  ...more,
});

/** What the logbook has to show. */
export const ASKED: readonly Scenario[] = [
  { id: 'fast', what: '4 sd a year, by month 18', spec: drift(4, 18), counts: 'found', asked: '≥ 90 %' },
  { id: 'middle', what: '2.5 sd a year, by month 24', spec: drift(2.5, 24), counts: 'found', asked: '≥ 95 %' },
  { id: 'slow', what: '1 sd a year, by month 36', spec: drift(1, 36), counts: 'found', asked: '≥ 80 %' },
  { id: 'none', what: 'no drift, 36 months', spec: none(), counts: 'false', asked: '≤ 7 %' },
  {
    id: 'none-autocorrelated',
    what: 'no drift, 36 months, autocorrelation 0.3',
    spec: none({ rho: 0.3 }),
    counts: 'false',
    asked: '≤ 7 %',
  },
];

/** Beyond what is asked: where it gets harder, and where the simulated car is not what the method supposes. */
export const HARDER: readonly Scenario[] = [
  { id: 'fast-late', what: '4 sd a year from month 3, by month 18', spec: drift(4, 18, { onset: 3 }), counts: 'found' },
  {
    id: 'fast-later',
    what: '4 sd a year from month 12, by month 24',
    spec: drift(4, 24, { onset: 12 }),
    counts: 'found',
  },
  {
    id: 'middle-late',
    what: '2.5 sd a year from month 6, by month 24',
    spec: drift(2.5, 24, { onset: 6 }),
    counts: 'found',
  },
  { id: 'slow-late', what: '1 sd a year from month 6, by month 36', spec: drift(1, 36, { onset: 6 }), counts: 'found' },
  {
    id: 'middle-autocorrelated',
    what: '2.5 sd a year, by month 24, autocorrelation 0.3',
    spec: drift(2.5, 24, { rho: 0.3 }),
    counts: 'found',
  },
  {
    id: 'middle-rebaselined',
    what: '2.5 sd a year, by month 24, work in between starts the measure anew',
    spec: drift(2.5, 24, { rebaselined: true }),
    counts: 'found',
  },
  {
    id: 'none-memories',
    what: 'no drift, autocorrelations of 0, 0.15, 0.3, 0.45, 0.6 among the measures',
    spec: none({ rhos: [0, 0.15, 0.3, 0.45, 0.6] }),
    counts: 'false',
  },
  {
    id: 'none-odd',
    what: 'no drift, an autocorrelation of 0.6 in two measures of 20, none in the others',
    spec: none({ rhos: [0, 0, 0, 0, 0, 0, 0, 0.6, 0, 0] }),
    counts: 'false',
  },
  {
    id: 'none-common',
    what: 'no drift, autocorrelation 0.3, half of the scatter common to all measures',
    spec: none({ rho: 0.3, common: 0.5 }),
    counts: 'false',
  },
  {
    id: 'none-tails',
    what: "no drift, scatter with tails (Student's t, 4 degrees)",
    spec: none({ degrees: 4 }),
    counts: 'false',
  },
  {
    id: 'none-curved',
    what: 'no drift, weather half a scatter off any straight line',
    spec: none({ curved: 0.5 }),
    counts: 'false',
  },
  {
    id: 'none-gaps',
    what: 'no drift, uneven intervals, a fifth of the values missing',
    spec: none({ uneven: 0.7, missing: 0.2 }),
    counts: 'false',
  },
  {
    id: 'none-fortnightly',
    what: 'no drift, a drive each fortnight for three years',
    spec: none({ drives: 78, interval: 14 }),
    counts: 'false',
  },
];

export interface Tally {
  readonly scenario: Scenario;
  readonly runs: number;
  /** Ownerships in which the drift was found (in the right direction), or anything was alarmed falsely. */
  readonly hits: number;
  /** Months (looks) at which drifts were found. */
  readonly months: readonly number[];
  readonly crossing: {
    readonly told: number;
    readonly distance: number;
    readonly date: number;
    readonly bounded: number;
  };
  readonly slope: { readonly told: number; readonly held: number };
}

/** Runs one kind of ownership; seeds from `seed` on. The crossing lies 0.3 to 3 years after the last drive. */
export function tally(scenario: Scenario, runs: number, seed: number): Tally {
  const trials: Trial[] = [];
  for (let k = 0; k < runs; k++)
    trials.push(trialOf({ ...scenario.spec, seed: seed + k, limitAhead: 0.3 + 2.7 * ((k * 0.618) % 1) }));
  const count = (pick: (trial: Trial) => boolean | undefined): number =>
    trials.filter((each) => pick(each) === true).length;
  return {
    scenario,
    runs,
    hits: count(({ found, falseAlarm }) => (scenario.counts === 'found' ? found !== undefined : falseAlarm)),
    months: trials.flatMap(({ found }) => found ?? []),
    crossing: {
      told: count(({ crossing }) => crossing !== undefined),
      distance: count(({ crossing }) => crossing?.distance),
      date: count(({ crossing }) => crossing?.date),
      bounded: count(({ crossing }) => crossing?.bounded),
    },
    slope: {
      told: count(({ slope }) => slope !== undefined),
      held: count(({ slope }) => slope),
    },
  };
}
