import { findChannel } from '../channels/index.js';
import type { Assessment, Result } from '../engine/assessment.js';
import { ABORT_CAUTIONS, GENERAL_CAUTIONS } from '../engine/cautions.js';
import { RULES } from '../rules/index.js';
import type { Rule } from '../rules/rule.js';
import type { TransmissionKind, Vehicle } from '../vehicle/vehicle.js';
import { SITE_CAUTIONS } from './cautions.js';
import { loggingRate } from './channel-rates.js';
import { shortestCover } from './cover.js';
import type { Phase, ReadOut } from './phase.js';
import { PHASES } from './phases.js';
import { READ_OUTS } from './read-outs.js';
import { partIn, SETTLED_BY, settledBy } from './settled-by.js';

/** The document of `telltale plan`; field order here is field order in the JSON. */
export interface Plan {
  readonly schema: 'telltale/plan@1';
  readonly vehicle: { readonly id: string };
  /** `assessment` = only what an assessment left unproven. */
  readonly basis: 'everything' | 'assessment';
  /** Rules that are to be shown, weightiest first, and what was missing. */
  readonly open: readonly { readonly rule: string; readonly question: string; readonly why?: string }[];
  readonly readOuts: readonly PlannedReadOut[];
  readonly channels: readonly PlannedChannel[];
  /** How the car must stand; empty when nothing asks for it. */
  readonly presentation: readonly string[];
  /** The fewest minutes that settle the weightiest open rules; absent when that is the whole plan. */
  readonly first?: {
    readonly phases: readonly string[];
    readonly duration: Minutes;
    readonly settles: readonly string[];
  };
  readonly phases: readonly PlannedPhase[];
  readonly duration: Minutes;
  /** What no drive settles: entries of the profile, and what is asked or looked at. */
  readonly also: readonly { readonly rule: string; readonly what: string }[];
  readonly cautions: {
    readonly site: readonly string[];
    readonly abort: readonly string[];
    readonly general: readonly string[];
  };
}

interface Minutes {
  readonly value: number;
  readonly unit: 'min';
}

export interface PlannedReadOut extends Omit<ReadOut, 'proves'> {
  readonly proves: readonly string[];
}

export interface PlannedPhase {
  readonly id: string;
  readonly title: string;
  readonly duration: Minutes;
  readonly where: Phase['where'];
  /** Present where a dynamometer does as well. */
  readonly dynamometer?: true;
  readonly steps: readonly string[];
  readonly cautions: readonly string[];
  readonly proves: readonly string[];
}

export interface PlannedChannel {
  readonly id: string;
  readonly rate: { readonly value: number; readonly unit: 'Hz' };
  /** 1 = without it a weighty question stays open, 2 = without it another does, 3 = makes answers surer. */
  readonly priority: 1 | 2 | 3;
  readonly for: readonly string[];
}

/** Heaviest weight of a rule: what can end an engine or a gearbox. */
const HEAVY = 3;

/**
 * What to record, to read out and to drive, in order. With an assessment only what it left unproven, by the fewest
 * minutes that settle it; without one everything that makes sense for the car.
 */
export function planFor(vehicle: Vehicle, assessment?: Pick<Assessment, 'results'>): Plan {
  const open = openRules(vehicle, assessment);
  const ids = new Set(open.map(({ rule }) => rule.id));
  const readOuts = READ_OUTS.map((each) => ({ ...each, proves: each.proves.filter((id) => ids.has(id)) })).filter(
    ({ proves }) => proves.length > 0,
  );
  const kind = vehicle.transmission.kind;
  const possible = PHASES.filter((phase) => fits(phase, kind));
  const phases =
    assessment === undefined
      ? possible.filter(({ id }) => partIn(id).some((rule) => ids.has(rule)))
      : shortestCover(possible, ids);
  const settled = new Set(settledBy(new Set(phases.map(({ id }) => id))));
  const heavy = new Set(open.filter(({ rule }) => rule.weight === HEAVY).map(({ rule }) => rule.id));
  const quick = shortestCover(possible, heavy);
  const quicker = quick.length > 0 && minutes(quick) < minutes(phases);
  return {
    schema: 'telltale/plan@1',
    vehicle: { id: vehicle.id },
    basis: assessment === undefined ? 'everything' : 'assessment',
    open: open.map(({ rule, why }) => ({
      rule: rule.id,
      question: rule.question,
      ...(why === undefined ? {} : { why }),
    })),
    readOuts,
    channels: channelsFor(open, assessment === undefined),
    presentation: presentationFor(phases),
    ...(quicker
      ? {
          first: {
            phases: quick.map(({ id }) => id),
            duration: { value: minutes(quick), unit: 'min' as const },
            settles: settledBy(new Set(quick.map(({ id }) => id))).filter((rule) => heavy.has(rule)),
          },
        }
      : {}),
    phases: phases.map(({ id, title, minutes: value, where, dynamometer, steps, cautions, allWheelDrive = [] }) => ({
      id,
      title,
      duration: { value, unit: 'min' },
      where,
      ...(dynamometer === undefined ? {} : { dynamometer }),
      steps,
      cautions: [...cautions, ...((vehicle.driveline.driven ?? 'all') === 'all' ? allWheelDrive : [])],
      proves: partIn(id).filter((rule) => ids.has(rule) && settled.has(rule)),
    })),
    duration: { value: minutes(phases), unit: 'min' },
    also: alsoFor(open, assessment === undefined ? vehicle : undefined),
    cautions: { site: SITE_CAUTIONS, abort: ABORT_CAUTIONS, general: GENERAL_CAUTIONS },
  };
}

interface Open {
  readonly rule: Rule;
  readonly result?: Extract<Result, { outcome: 'unproven' | 'error' }>;
  readonly why?: string;
}

function openRules(vehicle: Vehicle, assessment: Pick<Assessment, 'results'> | undefined): Open[] {
  const byId = new Map(RULES.map((rule) => [rule.id, rule]));
  const asked: Open[] =
    assessment === undefined
      ? RULES.filter((rule) => rule.notApplicable?.(vehicle) === undefined).map((rule) => ({ rule }))
      : assessment.results.flatMap((result): Open[] => {
          const rule = byId.get(result.rule);
          if (rule === undefined || (result.outcome !== 'unproven' && result.outcome !== 'error')) return [];
          return [{ rule, result, why: result.summary }];
        });
  return asked.sort((a, b) => b.rule.weight - a.rule.weight);
}

function fits(phase: Phase, kind: TransmissionKind | undefined): boolean {
  return phase.kinds === undefined || kind === undefined || phase.kinds.includes(kind);
}

function minutes(phases: readonly { readonly minutes: number }[]): number {
  return phases.reduce((sum, phase) => sum + phase.minutes, 0);
}

/** Without an assessment everything that the rules read; with one what was missing, and what the open rules need. */
function channelsFor(open: readonly Open[], everything: boolean): PlannedChannel[] {
  const found = new Map<string, { priority: 1 | 2 | 3; rules: string[] }>();
  const add = (id: string, priority: 1 | 2 | 3, rule: string): void => {
    const base = id.split('.')[0]!;
    // Counters and peaks of control-unit memory are read out once, before the start; no logger samples them.
    const definition = findChannel(base)?.definition;
    if (definition?.kind === 'stored' || definition?.system === 'stored') return;
    const entry = found.get(base);
    if (entry === undefined) found.set(base, { priority, rules: [rule] });
    else {
      if (priority < entry.priority) entry.priority = priority;
      if (!entry.rules.includes(rule)) entry.rules.push(rule);
    }
  };
  for (const { rule, result } of open) {
    const needed = rule.weight === HEAVY ? 1 : 2;
    for (const id of rule.needs.channels) add(id, needed, rule.id);
    if (result?.outcome === 'unproven') for (const id of result.missing.channels) add(id, needed, rule.id);
    if (everything || rule.needs.channels.length === 0) for (const id of rule.needs.optional) add(id, 3, rule.id);
  }
  return [...found]
    .map(
      ([id, { priority, rules }]): PlannedChannel => ({
        id,
        rate: { value: loggingRate(id), unit: 'Hz' },
        priority,
        for: rules,
      }),
    )
    .sort((a, b) => a.priority - b.priority || b.for.length - a.for.length || b.rate.value - a.rate.value);
}

function presentationFor(phases: readonly Phase[]): string[] {
  if (phases.length === 0) return [];
  const cold = phases.some(({ needs }) => needs === 'cold');
  return [
    ...(cold
      ? [
          'Stone cold: not run for eight hours, coolant, oil and transmission fluid within 6 K of the air around the car. Say so when the visit is agreed, and arrive early.',
          'Not on a charger, not on an engine heater, bonnet not warm from the sun.',
        ]
      : []),
    'Fuel for the drive, and the kind of fuel that the car is mapped for; the receipt, if there is one.',
    'Tyres at the maker’s pressures, and all four sizes written down.',
  ];
}

/** What the profile has to say, and what no logger shows; of what the rules need in general not what `vehicle` says already. */
function alsoFor(open: readonly Open[], vehicle: Vehicle | undefined): { rule: string; what: string }[] {
  const also: { rule: string; what: string }[] = [];
  for (const { rule, result } of open) {
    const conditions = result?.outcome === 'unproven' ? result.missing.conditions : rule.needs.conditions;
    for (const what of conditions)
      if (/vehicle profile|ask |receipt|invoice/i.test(what) && (vehicle === undefined || !known(what, vehicle)))
        also.push({ rule: rule.id, what });
  }
  return also;
}

/** Every entry of the profile that the text names (`engine.displacement`, `claims`) is there already. */
function known(what: string, vehicle: Vehicle): boolean {
  const named =
    what.match(/\b(?:engine|transmission|driveline|body|exhaust|calibration)\.\w+|\bclaims(?:\.\w+)?/g) ?? [];
  return (
    named.length > 0 &&
    named.every((path) => {
      let value: unknown = vehicle;
      for (const key of path.split('.')) value = (value as Readonly<Record<string, unknown>> | undefined)?.[key];
      return value !== undefined && !(typeof value === 'object' && value !== null && Object.keys(value).length === 0);
    })
  );
}

/** Rules that neither a phase nor a read-out names; none, which a test holds. */
export function unplanned(): string[] {
  const read = new Set(READ_OUTS.flatMap(({ proves }) => proves));
  return RULES.map(({ id }) => id).filter((id) => (SETTLED_BY[id] ?? []).length === 0 && !read.has(id));
}
