import { mean } from '../math/mean.js';
import { standardDeviation } from '../math/standard-deviation.js';
import { studentQuantile } from '../math/student.js';
import { planFor } from '../plan/plan.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../vehicle/vehicle.js';
import { addDays, addMonths, daysBetween } from './calendar-date.js';
import type { LogbookEntry, LogbookNote } from './entry.js';

/** What the transmission fluid has behind it since it was changed, as a comparison; never a verdict. */
export interface FluidLife {
  /** Date of the change, by a note; null = never noted, counted from the first drive. */
  readonly since: string | null;
  /** km driven since; null where the odometer is not known at both ends. */
  readonly distance: number | null;
  /** Mean ageing against steady 79.4 °C over the recorded drives since. */
  readonly factor: number;
  readonly drives: number;
  /** Share of the life that the chart gives, and its 95 % interval (drives seen, not the chart); null without a distance. */
  readonly used: { readonly value: number; readonly low: number; readonly high: number } | null;
  /** Km that are left at this ageing, never below 0; null without a distance. */
  readonly left: number | null;
}

export interface NextRecording {
  /** ISO date: one month after the last drive, or sooner where something runs towards a limit. */
  readonly date: string;
  readonly overdue: boolean;
  readonly reasons: readonly string[];
  /** Rules that the last drive left open. */
  readonly open: readonly string[];
  /** The fewest minutes of driving that settle them, and the phases. */
  readonly phases: readonly { readonly id: string; readonly title: string; readonly minutes: number }[];
}

/** What is due for one car. */
export interface CarDue {
  readonly car: string;
  /** When its last drive was recorded; null without any. */
  readonly last: string | null;
  readonly fluid: FluidLife | null;
  readonly next: NextRecording;
}

/** The document of `telltale track due`; field order here is field order in the JSON. */
export interface DueList {
  readonly schema: 'telltale/due@1';
  /** ISO date that counted as today. */
  readonly asOf: string;
  /** The soonest first. */
  readonly cars: readonly CarDue[];
}

/**
 * km that a trade chart gives conventional automatic fluid at 79.4 °C (175 °F): 100 000 miles, credited to the rebuilders'
 * association and seen in three copies. For dual-clutch fluid no such chart exists: a comparison of drives.
 */
const FLUID_LIFE = 160_934;
const AGEING = 'transmission.over-temperature.ageingPerHour';

/** Months between two recordings: often enough for twelve a year, the seasons in it. Common practice, no source. */
const MONTHS = 1;
/** Days after which a measure that drifts is looked at again. Common practice, no source. */
const SOON = 14;

/** What is known of a car when it is asked what is due. */
export interface DueQuestion {
  readonly car: string;
  /** Oldest first. */
  readonly entries: readonly LogbookEntry[];
  readonly notes: readonly LogbookNote[];
  /** ISO date that counts as today. */
  readonly asOf: string;
  readonly vehicle?: Vehicle | undefined;
  /** Names of measures that drift. */
  readonly drifting?: readonly string[];
}

export function dueFor({ car, entries, notes, asOf, vehicle, drifting = [] }: DueQuestion): CarDue {
  return {
    car,
    last: entries[entries.length - 1]?.recordedAt ?? null,
    fluid: fluidLife(entries, notes),
    next: nextRecording(entries, asOf, drifting, vehicle ?? UNKNOWN_VEHICLE),
  };
}

/** The soonest first. */
export function dueList(asOf: string, cars: readonly CarDue[]): DueList {
  const order = (a: CarDue, b: CarDue): number =>
    a.next.date < b.next.date ? -1 : a.next.date > b.next.date ? 1 : a.car < b.car ? -1 : 1;
  return { schema: 'telltale/due@1', asOf, cars: [...cars].sort(order) };
}

function fluidLife(entries: readonly LogbookEntry[], notes: readonly LogbookNote[]): FluidLife | null {
  const changes = notes.filter(({ kind }) => kind === 'fluid').sort((a, b) => (a.date < b.date ? -1 : 1));
  const change = changes[changes.length - 1];
  const since = entries.filter(({ recordedAt }) => change === undefined || recordedAt.slice(0, 10) >= change.date);
  const factors = since.flatMap(({ measures }) => measures.filter(({ id }) => id === AGEING).map(({ value }) => value));
  if (factors.length === 0) return null;
  const known = since.map(({ distance }) => distance).filter((each) => each !== null);
  const first = change?.distance ?? known[0];
  const last = known[known.length - 1];
  const distance = first === undefined || first === null || last === undefined || last < first ? null : last - first;
  const factor = mean(factors);
  const n = factors.length;
  // Mean of few drives: Student's t (JCGM 100:2008 G.3.2); of one drive nothing is known of the scatter.
  const half = n < 2 ? Number.NaN : (studentQuantile(0.975, n - 1) * standardDeviation(factors)) / Math.sqrt(n);
  const share = (of: number): number => (Math.max(0, of) * (distance ?? Number.NaN)) / FLUID_LIFE;
  return {
    since: change?.date ?? null,
    distance,
    factor,
    drives: n,
    used:
      distance === null
        ? null
        : {
            value: share(factor),
            low: Number.isNaN(half) ? 0 : share(factor - half),
            high: Number.isNaN(half) ? Number.POSITIVE_INFINITY : share(factor + half),
          },
    left: distance === null || !(factor > 0) ? null : Math.max(0, FLUID_LIFE / factor - distance),
  };
}

function nextRecording(
  entries: readonly LogbookEntry[],
  asOf: string,
  drifting: readonly string[],
  vehicle: Vehicle,
): NextRecording {
  const last = entries[entries.length - 1];
  if (last === undefined)
    return { date: asOf, overdue: false, reasons: ['no drive is in the book yet'], open: [], phases: [] };
  const day = last.recordedAt.slice(0, 10);
  const monthly = addMonths(day, MONTHS);
  const grave = last.summary.findings.filter(({ severity }) => severity !== 'watch');
  const reasons = [
    ...(drifting.length > 0 ? [`${drifting.join('; ')}: drifting, so look again within ${SOON} days`] : []),
    ...(grave.length > 0 ? [`${grave.map(({ rule }) => rule).join(', ')}: record again once it has been seen to`] : []),
    ...(drifting.length === 0 ? ['one drive a month, so that weather and wear can be told apart'] : []),
  ];
  const date = drifting.length > 0 ? addDaysCapped(day, SOON, monthly) : monthly;
  const open = last.summary.unproven;
  return { date, overdue: daysBetween(date, asOf) > 0, reasons, open, phases: phasesFor(open, vehicle) };
}

function addDaysCapped(day: string, days: number, latest: string): string {
  const soon = addDays(day, days);
  return soon < latest ? soon : latest;
}

function phasesFor(open: readonly string[], vehicle: Vehicle): NextRecording['phases'] {
  const results = open.map((rule) => ({
    rule,
    outcome: 'unproven' as const,
    summary: '',
    proves: '',
    missing: { channels: [], conditions: [] },
  }));
  return planFor(vehicle, { results }).phases.map(({ id, title, duration }) => ({
    id,
    title,
    minutes: duration.value,
  }));
}
