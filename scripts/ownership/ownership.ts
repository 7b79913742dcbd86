import type { LogbookEntry, LogbookNote, NoteKind, TrackedMeasure } from '../../packages/core/src/logbook/entry.js';
import { dateOf, YEAR } from '../../packages/core/src/logbook/trend/calendar.js';
import { Random } from '../simulate/random.js';

/** How one simulated ownership is made. */
export interface OwnershipSpec {
  readonly seed: number;
  readonly measures: number;
  readonly drives: number;
  /** Correlation of the scatter of neighbouring drives. */
  readonly rho: number;
  /** Such correlations that the measures have in turn, in place of `rho`. */
  readonly rhos?: readonly number[];
  /** Share of the scatter's variance that all measures have in common, up or down. */
  readonly common?: number;
  /** Scatters a year by which one measure gets worse, from a month on; none when left out. */
  readonly drift?: { readonly rate: number; readonly onset: number; readonly rebaselined?: boolean };
  /** Mean days between drives, and how much single intervals differ (share). */
  readonly interval?: number;
  readonly uneven?: number;
  /** Share of the scatter's tail: degrees of Student's t in place of the normal law. */
  readonly degrees?: number;
  /** Part of the weather that no straight line follows, in scatters at the ends of the year. */
  readonly curved?: number;
  /** Share of drives in which a measure is missing. */
  readonly missing?: number;
  /** Years after the last drive at which the drifting measure truly crosses its limit. */
  readonly limitAhead?: number;
}

export interface Ownership {
  readonly entries: readonly LogbookEntry[];
  readonly notes: readonly LogbookNote[];
  readonly measures: readonly TrackedMeasure[];
  /** What is true of the measure that drifts. */
  readonly truth: Truth | undefined;
}

export interface Truth {
  readonly id: string;
  readonly direction: 'higher' | 'lower';
  /** Drift in units of the measure per 10,000 km, upwards positive. */
  readonly slope: number;
  /** Where the level in mean weather crosses the limit: km, and days from 1970-01-01. */
  readonly crossing: { readonly distance: number; readonly day: number } | undefined;
}

interface Plan {
  readonly measure: TrackedMeasure;
  readonly base: number;
  readonly scatter: number;
  readonly ambient: number;
  readonly load: number;
}

/**
 * 36 or so drives of one invented car. Seasons move ambient temperature (10 K either way, 3.5 K from day to day); it and
 * the load move most measures by up to a few scatters; oil changes once a year, fluid once, tyres once, each with a new
 * level for the measures it touches; each drive tells a standard error, part of the scatter.
 */
export function ownershipOf(spec: OwnershipSpec): Ownership {
  const random = new Random(spec.seed, 11);
  const interval = spec.interval ?? YEAR / 12;
  const kmPerYear = random.range(8000, 22000);
  const firstDay = 18262 + random.int(0, 364);
  const firstDistance = random.range(20000, 120000);
  const plans = Array.from({ length: spec.measures }, (_, m) => planOf(m, random));
  const days: number[] = [];
  const odometers: number[] = [];
  let day = firstDay;
  let odometer = firstDistance;
  for (let k = 0; k < spec.drives; k++) {
    if (k > 0) {
      const gap = interval * (1 + (spec.uneven ?? 0.1) * random.range(-1, 1));
      day += gap;
      odometer += (kmPerYear / YEAR) * gap * random.range(0.6, 1.4);
    }
    days.push(day);
    odometers.push(odometer);
  }
  const { notes, restarts } = services(days, odometers, random);
  const fits = plans.filter(({ measure }) => {
    const touched = measure.rebaselinedBy.some((kind) => (restarts.get(kind)?.length ?? 0) > 0);
    return touched === (spec.drift?.rebaselined ?? false);
  });
  const chosen = spec.drift === undefined ? undefined : random.pick(fits);
  const ambients = days.map((d) => 11 - 10 * Math.cos((2 * Math.PI * (d - 15)) / YEAR) + 3.5 * random.normal());
  const loads = days.map(() => Math.max(0.05, 0.3 + 0.06 * random.normal()));
  const noise = plans.map(() => random.normal());
  const rhoOf = (m: number): number => spec.rhos?.[m % spec.rhos.length] ?? spec.rho;
  const shared = spec.common ?? 0;
  let common = shared > 0 ? random.normal() : 0;
  const jumps = new Map<string, number>();
  const onsetDistance = odometers[0]! + (kmPerYear * (spec.drift?.onset ?? 0)) / 12;
  const sign = chosen === undefined ? 1 : signOf(chosen, random);
  const drifted = (distance: number): number =>
    chosen === undefined
      ? 0
      : (sign * spec.drift!.rate * chosen.scatter * Math.max(0, distance - onsetDistance)) / kmPerYear;
  const entries = days.map((d, k): LogbookEntry => {
    if (k > 0 && shared > 0) common = spec.rho * common + Math.sqrt(1 - spec.rho ** 2) * random.normal();
    const measures = plans.flatMap((plan, m) => {
      const { measure, base, scatter, ambient, load } = plan;
      const rho = rhoOf(m);
      if (k > 0) noise[m] = rho * noise[m]! + Math.sqrt(1 - rho ** 2) * draw(random, spec.degrees);
      for (const kind of measure.rebaselinedBy)
        if (restarts.get(kind)?.includes(k)) jumps.set(measure.id, (jumps.get(measure.id) ?? 0) + 2 * random.normal());
      const scattered = Math.sqrt(1 - shared) * noise[m]! + (m % 2 === 0 ? 1 : -1) * Math.sqrt(shared) * common;
      const error = scatter * random.range(0.2, 0.6);
      const season = (ambients[k]! - 11) / 10;
      const value =
        base +
        scatter * (scattered + ambient * season + (spec.curved ?? 0) * season * season) +
        (scatter * load * (loads[k]! - 0.3)) / 0.06 +
        scatter * (jumps.get(measure.id) ?? 0) +
        (plan === chosen ? drifted(odometers[k]!) : 0);
      if (random.chance(spec.missing ?? 0)) return [];
      return [{ id: measure.id, value, standardError: error, samples: 20, unit: measure.unit }];
    });
    return {
      hash: `${spec.seed}-${String(k).padStart(4, '0')}`,
      car: 'simulated',
      recordedAt: dateOf(d),
      distance: Math.round(odometers[k]!),
      engineHours: null,
      measures,
      covariates: { ambientTemperature: ambients[k]!, load: loads[k]!, altitude: null, fuel: null },
      summary: { level: 'sound', coverage: 1, index: { low: 100, high: 100 }, findings: [], unproven: [] },
    };
  });
  if (chosen === undefined) return { entries, notes, measures: plans.map(({ measure }) => measure), truth: undefined };
  const ahead = spec.limitAhead ?? 1;
  const crossing = {
    distance: odometers.at(-1)! + ahead * kmPerYear,
    day: days.at(-1)! + ahead * YEAR,
  };
  const mean = (list: readonly number[]): number => list.reduce((sum, x) => sum + x, 0) / list.length;
  const weather = (chosen.ambient * (mean(ambients) - 11)) / 10 + (chosen.load * (mean(loads) - 0.3)) / 0.06;
  const jump = jumps.get(chosen.measure.id) ?? 0;
  const limit = chosen.base + chosen.scatter * (weather + jump) + drifted(crossing.distance);
  // A limit on either side is held against the distance from the middle, 0.
  const told = chosen.measure.worse !== 'either' || limit * sign > 0;
  return {
    entries,
    notes,
    measures: plans.map((plan) =>
      plan === chosen && told
        ? { ...plan.measure, limit: { value: limit, name: 'simulated', source: 'simulated' } }
        : plan.measure,
    ),
    truth: {
      id: chosen.measure.id,
      direction: sign > 0 ? 'higher' : 'lower',
      slope: (sign * spec.drift!.rate * chosen.scatter * 10000) / kmPerYear,
      crossing: told ? crossing : undefined,
    },
  };
}

/** Of 20 measures: 4 begin anew with oil, 3 with fluid, 1 with tyres, 12 with a battery, which nobody changes. */
function planOf(m: number, random: Random): Plan {
  const kinds: readonly (readonly NoteKind[])[] = [
    ['oil'],
    ['fluid'],
    ['battery'],
    [],
    [],
    ['relearn'],
    [],
    ['software'],
  ];
  const worse = m % 10 === 9 ? 'either' : random.chance(0.5) ? 'higher' : 'lower';
  const movedBy = random.chance(0.8) ? (['ambientTemperature', 'load'] as const) : (['load'] as const);
  return {
    measure: {
      id: `measure.${String(m + 1).padStart(2, '0')}`,
      name: `measure ${m + 1}`,
      unit: '1',
      worse,
      limit: null,
      rebaselinedBy: m % 20 === 8 ? ['tyres'] : kinds[m % 8]!,
      movedBy,
    },
    base: worse === 'either' ? 0 : random.range(-5, 50),
    scatter: 10 ** random.range(-2, 1),
    ambient: movedBy.length === 2 ? random.range(-3, 3) : 0,
    load: random.range(-1, 1),
  };
}

function signOf({ measure: { worse } }: Plan, random: Random): 1 | -1 {
  if (worse === 'either') return random.chance(0.5) ? 1 : -1;
  return worse === 'higher' ? 1 : -1;
}

/** Oil every year, fluid once in the second year, tyres once, relearn once in three of ten. */
function services(
  days: readonly number[],
  odometers: readonly number[],
  random: Random,
): { notes: LogbookNote[]; restarts: Map<NoteKind, number[]> } {
  const notes: LogbookNote[] = [];
  const restarts = new Map<NoteKind, number[]>();
  const work = (kind: NoteKind, year: number): void => {
    const on = days[0]! + year * YEAR;
    const next = days.findIndex((d) => d > on + 1);
    if (next < 1) return;
    // Done on the day after a drive, or later: no drive of that day is in doubt.
    const day = Math.max(on, days[next - 1]! + 1);
    if (day >= days[next]! - 1) return;
    notes.push({ car: 'simulated', date: dateOf(day), distance: Math.round(odometers[next - 1]!), kind, text: kind });
    restarts.set(kind, [...(restarts.get(kind) ?? []), next]);
  };
  const oil = random.range(0.3, 1.2);
  for (let year = oil; year < 3; year += 1) work('oil', year);
  work('fluid', random.range(1, 2));
  work('tyres', random.range(0.5, 2.5));
  if (random.chance(0.3)) work('relearn', random.range(0.5, 2.5));
  return { notes, restarts };
}

/** Unit variance: normal, or Student's t. */
function draw(random: Random, degrees: number | undefined): number {
  const z = random.normal();
  if (degrees === undefined) return z;
  let squares = 0;
  for (let k = 0; k < degrees; k++) squares += random.normal() ** 2;
  return (z / Math.sqrt(squares / degrees)) * Math.sqrt((degrees - 2) / degrees);
}
