import { GENERAL_CAUTIONS } from '../engine/cautions.js';
import type { Severity } from '../rules/rule.js';
import type { CarDue } from './due.js';
import type { DriveSummary, LogbookEntry, LogbookNote, NoteKind, TrackedMeasure } from './entry.js';

/** A lower and an upper bound with the value between; null = not bounded on that side. */
export interface Range {
  readonly low: number | null;
  readonly value: number | null;
  readonly high: number | null;
}

/** The same for ISO dates. */
export interface DateRange {
  readonly low: string | null;
  readonly value: string | null;
  readonly high: string | null;
}

export type CourseState = 'drifting' | 'changed' | 'steady' | 'weather-or-wear' | 'too-few-drives';

/** How one measure of a car went over its drives. */
export interface Course {
  readonly id: string;
  readonly name: string;
  readonly unit: string;
  readonly worse: TrackedMeasure['worse'];
  readonly limit: TrackedMeasure['limit'];
  readonly state: CourseState;
  /** One sentence for people. */
  readonly says: string;
  /** Drives that hold the measure since the last new baseline. */
  readonly drives: number;
  /** How many more are needed before anything can be said; 0 = enough. */
  readonly drivesNeeded: number;
  /** Change with its 95 % interval, weather and load taken out; null where it cannot be told. */
  readonly slope: (Range & { readonly per: 'year' | '10000 km' }) | null;
  /** Where the measure meets its limit if it goes on so: 95 % prediction interval that may be open. */
  readonly forecast: { readonly date: DateRange | null; readonly distance: Range | null } | null;
  /** Date of the drive at which the alarm of the present baseline rang; null = never. */
  readonly alarm: string | null;
  /** Dates at which the level stepped. */
  readonly changes: readonly string[];
  /** Notes after which it was counted anew. */
  readonly baselines: readonly { readonly date: string; readonly kind: NoteKind }[];
  readonly points: readonly {
    readonly at: string;
    readonly distance: number | null;
    readonly value: number;
    readonly standardError: number | null;
  }[];
  /** 95 % band of the fitted course at the drives, for plots; empty where nothing was fitted. */
  readonly band: readonly {
    readonly at: string;
    readonly low: number;
    readonly value: number;
    readonly high: number;
  }[];
  /** Where it goes in the next two years if it goes on so, with its 95 % band; only of what drifts or stepped. */
  readonly ahead: readonly {
    readonly at: string;
    readonly low: number;
    readonly value: number;
    readonly high: number;
  }[];
}

/** What is different since the drive before. */
export interface Since {
  readonly from: string;
  readonly to: string;
  readonly level: { readonly before: DriveSummary['level']; readonly now: DriveSummary['level'] };
  readonly appeared: readonly { readonly rule: string; readonly severity: Severity; readonly summary: string }[];
  readonly gone: readonly { readonly rule: string; readonly severity: Severity }[];
  /** Alarms that rang at the last drive, by measure name. */
  readonly alarms: readonly string[];
  readonly notes: readonly LogbookNote[];
}

/** The document of `telltale track show` and `track report` for one car; field order here is field order in the JSON. */
export interface CarReport {
  readonly schema: 'telltale/logbook@1';
  readonly car: string;
  readonly drives: number;
  readonly first: string | null;
  readonly last: string | null;
  /** km on the odometer at the first and last drive that hold it. */
  readonly distance: { readonly first: number; readonly last: number } | null;
  readonly latest: DriveSummary | null;
  readonly since: Since | null;
  /** The worst first. */
  readonly measures: readonly Course[];
  readonly notes: readonly LogbookNote[];
  /** What is due; absent where no day counts as today (`show` without a clock). */
  readonly due?: CarDue;
  readonly cautions: readonly string[];
}

const ORDER: Readonly<Record<CourseState, number>> = {
  drifting: 0,
  changed: 1,
  'weather-or-wear': 2,
  steady: 3,
  'too-few-drives': 4,
};

/**
 * Everything that is said of one car.
 * @param entries of the car, oldest first
 * @param courses of its measures; within a state their order is kept
 */
export function carReport(
  car: string,
  entries: readonly LogbookEntry[],
  notes: readonly LogbookNote[],
  courses: readonly Course[],
  due?: CarDue,
): CarReport {
  const last = entries[entries.length - 1];
  const driven = entries.map(({ distance }) => distance).filter((each) => each !== null);
  return {
    schema: 'telltale/logbook@1',
    car,
    drives: entries.length,
    first: entries[0]?.recordedAt ?? null,
    last: last?.recordedAt ?? null,
    distance: driven.length === 0 ? null : { first: driven[0]!, last: driven[driven.length - 1]! },
    latest: last?.summary ?? null,
    since: sinceLast(entries, notes, courses),
    measures: courses
      .map((course, i) => ({ course, i }))
      .sort((a, b) => ORDER[a.course.state] - ORDER[b.course.state] || a.i - b.i)
      .map(({ course }) => course),
    notes,
    ...(due === undefined ? {} : { due }),
    cautions: [TREND_CAUTION, ...GENERAL_CAUTIONS],
  };
}

const TREND_CAUTION =
  'A forecast is what would happen if the car went on as in its recorded drives: it is no promise that nothing fails before, and replaces no service.';

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

function sinceLast(
  entries: readonly LogbookEntry[],
  notes: readonly LogbookNote[],
  courses: readonly Course[],
): Since | null {
  const [before, now] = entries.slice(-2);
  if (before === undefined || now === undefined) return null;
  const held = new Map(before.summary.findings.map(({ rule, severity }) => [rule, severity]));
  const holds = new Set(now.summary.findings.map(({ rule }) => rule));
  // What the last drive did not show is not gone.
  const open = new Set(now.summary.unproven);
  return {
    from: before.recordedAt,
    to: now.recordedAt,
    level: { before: before.summary.level, now: now.summary.level },
    appeared: now.summary.findings.filter(({ rule, severity }) => {
      const earlier = held.get(rule);
      return earlier === undefined || RANK[severity] > RANK[earlier];
    }),
    gone: before.summary.findings
      .filter(({ rule }) => !holds.has(rule) && !open.has(rule))
      .map(({ rule, severity }) => ({ rule, severity })),
    alarms: courses.filter(({ alarm }) => alarm?.slice(0, 10) === now.recordedAt.slice(0, 10)).map(({ name }) => name),
    notes: notes.filter(({ date }) => date > before.recordedAt.slice(0, 10) && date <= now.recordedAt.slice(0, 10)),
  };
}

/** One car in the view of all, from its report. */
export interface FleetLine {
  readonly car: string;
  readonly drives: number;
  readonly last: string | null;
  readonly level: DriveSummary['level'] | null;
  readonly index: { readonly low: number; readonly high: number } | null;
  readonly findings: number;
  /** Names of measures that drift. */
  readonly drifting: readonly string[];
  /** The first limit that a measure is forecast to meet. */
  readonly first: { readonly name: string; readonly date: string } | null;
}

/** The document of `track show` and `track report` over all cars of a book. */
export interface FleetReport {
  readonly schema: 'telltale/fleet@1';
  /** The worst first. */
  readonly cars: readonly FleetLine[];
  readonly cautions: readonly string[];
}

const LEVELS: Readonly<Record<DriveSummary['level'], number>> = { stop: 4, repair: 3, watch: 2, unproven: 1, sound: 0 };

export function fleetLine({ car, drives, last, latest, measures }: CarReport): FleetLine {
  const drifting = measures.filter(({ state }) => state === 'drifting');
  const met = drifting
    .flatMap(({ name, forecast }) => {
      const date = forecast?.date?.low ?? forecast?.date?.value;
      return date === undefined || date === null ? [] : [{ name, date }];
    })
    .sort((a, b) => (a.date < b.date ? -1 : 1));
  return {
    car,
    drives,
    last,
    level: latest?.level ?? null,
    index: latest?.index ?? null,
    findings: latest?.findings.length ?? 0,
    drifting: drifting.map(({ name }) => name),
    first: met[0] ?? null,
  };
}

/** Worst first: by the verdict of the last drive, then what drifts, then the middle of the index, then the label. */
export function fleetReport(lines: readonly FleetLine[]): FleetReport {
  const middle = ({ index }: FleetLine): number => (index === null ? 101 : (index.low + index.high) / 2);
  const level = (line: FleetLine): number => (line.level === null ? -1 : LEVELS[line.level]);
  const cars = [...lines].sort(
    (a, b) =>
      level(b) - level(a) ||
      b.drifting.length - a.drifting.length ||
      middle(a) - middle(b) ||
      (a.car < b.car ? -1 : a.car > b.car ? 1 : 0),
  );
  return { schema: 'telltale/fleet@1', cars, cautions: [TREND_CAUTION, ...GENERAL_CAUTIONS] };
}
