import { exceeds } from '../../derived/exceeds.js';
import type { LearnedRatio } from '../../derived/ratio-clusters.js';
import type { Matching } from '../../derived/ratio-matching.js';
import type { PassingRatio } from '../../derived/ratio-raw.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed } from '../rule.js';
import { counted, figure, listed, nearWhenBeyond, signed } from '../wording.js';
import { type Held, ratioEvents } from './ratio-events.js';

export interface RatioObservation {
  readonly ratios: readonly LearnedRatio[];
  /** Pairs of engine and road speed per second. */
  readonly hz: number;
  /** Seconds that each gear was held without load, NaN where the load is not known. */
  readonly light: readonly number[];
  /** Longest stretch of each gear, without load where there is one. */
  readonly held: readonly Held[];
  /** Heaps that were never held: shift dips, or a gear hardly touched. */
  readonly passing: readonly PassingRatio[];
  /** An open converter may stand between engine and gears, and nothing recorded tells when. */
  readonly open: boolean;
  /** Engine speed before a converter: its slip differs from gear to gear, so a step that is off proves nothing. */
  readonly slipping: boolean;
  /** Absent when the profile names no gears. */
  readonly matching?: Matching;
  /** Road speed is that of just the wheels that the gearbox is geared to. */
  readonly geared: boolean;
  /** Share of rows in which gear channel and ratio agree; NaN without a gear channel. */
  readonly agreement: number;
  readonly channels: readonly { readonly certainty: 'certain' | 'likely' | 'inferred' | 'user' }[];
}

/** One step between two neighbouring gears that were both driven. */
interface Step {
  readonly lower: number;
  readonly upper: number;
  readonly measured: number;
  readonly profile: number;
  /** Measured over profile less one, %, and its standard uncertainty. */
  readonly off: number;
  readonly u: number;
  readonly samples: number;
  readonly slipping: boolean;
  /** Part of `u` that more drives do not lessen, %. */
  readonly floor: number;
}

/**
 * What differs from gear to gear and stays after correction, as a share of a step: slip by design and at take-up, and
 * with any speed but that of the driven wheels slip of tyres besides. Common practice, no source.
 */
const SLIP_U = { wheels: 0.005, road: 0.01 } as const;
/** Slip of an open converter that differs from gear to gear, as a share: common practice, no source. */
const OPEN_U = 0.04;
/** A step is proven when its standard uncertainty (%) is below this. */
const PROVEN = 1.6;
/** Settled measurements of a gear behind a step. */
const LEAST = 6;
/** Seconds without load before a gear proves a step: under load alone, slip of a clutch looks like another ratio, and one short bend like one too. Common practice, no source. */
const LIGHT = 4;
/** A log slower than this (Hz) leaves few settled pairs of each gear; what is asked for then. Common practice, no source. */
const SLOW = 0.95;
const WANTED = 2;
/** Standard uncertainties beyond the limit from which a step that is not surely off cannot be called right either. Our own choice. */
const LIKELY = 1;
/** Standard uncertainties to a one-sided 95 % bound. */
const REACH = ONE_SIDED_95;
/** Steps that make up a gearbox well enough to call it the right one. */
const ENOUGH = 3;
/** Rolling circumference by the name of the size and speed display together, standard uncertainty as a share. */
const SCALE_U = 0.015;

export function judgeRatio(observed: readonly Observed<RatioObservation>[], context: Context): Judgement {
  const { gears } = context.vehicle.transmission;
  const limits = context.limits();
  const richest = observed.reduce((a, b) => (total(b.observation) > total(a.observation) ? b : a)).observation;
  const measures = measuresOf(richest);
  const strangers = richest.ratios.flatMap((_, k) => (gearsOf(richest).includes(k) ? [] : [k]));
  const details = {
    ratios: gearsOf(richest).map((k) => ({
      gear: numberOf(richest, k) ?? k + 1,
      ...ratioOf(richest, k),
    })),
    ...(strangers.length > 0 ? { others: strangers.map((k) => ratioOf(richest, k)) } : {}),
    ...(richest.passing.length > 0
      ? { passing: richest.passing.map(({ value, samples }) => ({ rpmPerKmh: value, samples })) }
      : {}),
  };
  if (gears === undefined || richest.matching === undefined) {
    return {
      outcome: 'unproven',
      summary: `${counted(richest.ratios.length, 'gear')} seen by engine over road speed; the profile names no gears to compare them with${countable(richest) ? '' : ', and a slip that lasts would count as one more'}.`,
      measures,
      details,
      missing: { channels: [], conditions: ['vehicle profile with transmission.gears, finalDrive and tyre size'] },
    };
  }
  const steps = stepsOf(observed, gears);
  const watch = limits.watch!;
  const scale = scaleNote(richest.matching, limits.overall!.value);
  const base = {
    measures: { ...measures, ...stepMeasures(steps), ...scale.measures },
    limits: [watch, limits.overall!],
    notes: [...scale.notes, ...agreementNote(richest.agreement), ...strangerNote(richest, strangers, gears.length)],
    details,
  };
  const firm = steps.filter(({ slipping }) => !slipping);
  const worst = firm.reduce<Step | undefined>((a, b) => (a === undefined || beyond(b) > beyond(a) ? b : a), undefined);
  if (worst !== undefined && isOff(worst, watch)) {
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: Math.abs(worst.off) - watch.value,
        uncertainty: worst.u,
        samples: worst.samples,
        channels: richest.channels,
      }),
      events: ratioEvents(
        observed,
        firm.filter((step) => isOff(step, watch)),
        firm,
        gears,
        watch,
      ),
      summary: `The step from gear ${worst.lower} to ${worst.upper} is ${figure(worst.measured, 3)}, the profile says ${figure(worst.profile, 3)}: ${signed(worst.off)} % off, beyond the limit of ${figure(watch.value)} %.`,
      causes: ['a gearbox or gear set of another version is fitted', 'the profile names the ratios of another version'],
      advice: [
        'Read the number on the gearbox and compare it with the ratios the maker states for it.',
        'Correct transmission.gears in the profile when the gearbox is the right one.',
      ],
    };
  }
  const proven = steps.filter((step) => step.u <= PROVEN && !(step.slipping && isOff(step, watch)));
  const needed = Math.min(ENOUGH, gears.length - 1);
  if (proven.length < needed) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `${counted(proven.length, 'step')} between neighbouring gears could be measured well enough, ${needed} are needed.`,
      missing: richest.open
        ? {
            channels: ['inputShaftSpeed'],
            conditions: ['turbine speed, converter slip or state of the converter clutch'],
          }
        : {
            channels: [],
            conditions: [
              'gentle drive through every forward gear, each >= 5 s',
              ...(richest.hz < SLOW ? [`engine speed and road speed at >= ${WANTED} Hz`] : []),
            ],
          },
    };
  }
  const furthest = furthestOf(proven);
  if (Math.abs(furthest.off) > watch.value + LIKELY * furthest.u && REACH * furthest.u > watch.value) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The step from gear ${furthest.lower} to ${furthest.upper} is ${signed(furthest.off)} % off the profile, ± ${figure(REACH * furthest.u)} (95 % bound): beyond the limit of ${figure(watch.value)} %, but not surely.`,
      missing: {
        channels: [],
        conditions: [`gentle drive in gears ${furthest.lower} and ${furthest.upper}, each >= 30 s, more than once`],
      },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: watch.value + REACH * furthest.u - Math.abs(furthest.off),
      uncertainty: furthest.u,
      samples: Math.min(...proven.map(({ samples }) => samples)),
      channels: richest.channels,
    }),
    summary: `${counted(gearsOf(richest).length, 'gear')} driven; ${counted(proven.length, 'step')} between them agree with the profile, the furthest by ${signed(furthest.off)} % ± ${figure(REACH * furthest.u)} (95 % bound, limit ${figure(watch.value)} %)${nearWhenBeyond(Math.abs(furthest.off), watch.value)}.`,
  };
}

function isOff({ off, u }: Step, { value, comparison }: Limit): boolean {
  return exceeds(Math.abs(off), u, value, comparison) === 'beyond';
}

function total({ ratios }: RatioObservation): number {
  return ratios.reduce((sum, { samples }) => sum + Math.min(100, samples), 0);
}

function furthestOf(steps: readonly Step[]): Step {
  return steps.reduce((a, b) => (beyond(b) > beyond(a) ? b : a));
}

/** Lower bound of the deviation. */
function beyond({ off, u }: Step): number {
  return Math.abs(off) - REACH * u;
}

/** Steps of all drives, the same pair weighed together by its uncertainty (inverse variance). */
function stepsOf(observed: readonly Observed<RatioObservation>[], gears: readonly number[]): Step[] {
  const pairs = new Map<string, Step[]>();
  for (const { observation } of observed) {
    const { ratios, light, matching, open, slipping, geared } = observation;
    const pulled = (index: number): boolean => light[index]! < LIGHT;
    const floor = geared ? SLIP_U.wheels : SLIP_U.road;
    const usable = (matching?.matches ?? []).filter(({ index }) => ratios[index]!.samples >= LEAST);
    for (let k = 1; k < usable.length; k++) {
      const [a, b] = [usable[k - 1]!, usable[k]!];
      const [low, high] = [ratios[a.index]!, ratios[b.index]!];
      const measured = low.value / high.value;
      const profile = gears[a.gear - 1]! / gears[b.gear - 1]!;
      const step: Step = {
        lower: a.gear,
        upper: b.gear,
        measured,
        profile,
        off: 100 * (measured / profile - 1),
        u: 100 * Math.hypot(low.u / low.value, high.u / high.value, floor, open ? OPEN_U : 0),
        samples: Math.min(low.samples, high.samples),
        slipping: slipping || pulled(a.index) || pulled(b.index),
        floor: 100 * floor,
      };
      const key = `${a.gear}-${b.gear}`;
      pairs.set(key, [...(pairs.get(key) ?? []), step]);
    }
  }
  return [...pairs.values()].map((all): Step => {
    // A drive in which both gears were held without load says more than one in which a clutch may have slipped.
    const sure = all.filter(({ slipping }) => !slipping);
    const steps = sure.length > 0 ? sure : all;
    const weight = steps.reduce((sum, { u }) => sum + 1 / u ** 2, 0);
    const off = steps.reduce((sum, step) => sum + step.off / step.u ** 2, 0) / weight;
    const { profile } = steps[0]!;
    const floor = Math.min(...steps.map((step) => step.floor));
    const samples = steps.reduce((sum, step) => sum + step.samples, 0);
    return {
      ...steps[0]!,
      off,
      u: Math.max(floor, 1 / Math.sqrt(weight)),
      measured: profile * (1 + off / 100),
      samples,
    };
  });
}

/** By the gears of the profile, else by the gear column; nothing where neither tells. */
function numberOf({ ratios, matching }: RatioObservation, k: number): number | undefined {
  const { number } = ratios[k]!;
  return matching?.matches.find(({ index }) => index === k)?.gear ?? (number >= 1 ? number : undefined);
}

/** Indices of the ratios that are gears: those of the profile where it names gears, else all. */
function gearsOf({ ratios, matching }: RatioObservation): number[] {
  return matching === undefined ? ratios.map((_, k) => k) : matching.matches.map(({ index }) => index);
}

/** A gear column numbers every ratio. */
function countable({ ratios }: RatioObservation): boolean {
  return ratios.every(({ number }) => number >= 1);
}

function ratioOf({ ratios }: RatioObservation, k: number): { rpmPerKmh: number; u: number; samples: number } {
  const { value, u, samples } = ratios[k]!;
  return { rpmPerKmh: value, u, samples };
}

/** Held ratios that fit no gear of the profile: a slip that lasted, an open converter, reverse. No gears, and not counted as such. */
function strangerNote(richest: RatioObservation, strangers: readonly number[], count: number): string[] {
  if (strangers.length === 0) return [];
  const values = strangers.map((k) => figure(richest.ratios[k]!.value));
  return [
    `Engine and road speed also kept to ${listed(values)} rpm per km/h, which is none of the ${count} gears of the profile: a clutch that slips for long, an open converter or reverse looks like that.`,
  ];
}

function measuresOf(richest: RatioObservation): Record<string, Measure> {
  const measures: Record<string, Measure> = { gears: { value: gearsOf(richest).length } };
  richest.ratios.forEach(({ value }, k) => {
    const gear = numberOf(richest, k);
    if (gear !== undefined) measures[`ratio.gear${gear}`] = { value, unit: 'rpm/(km/h)' };
  });
  return measures;
}

function stepMeasures(steps: readonly Step[]): Record<string, Measure> {
  if (steps.length === 0) return {};
  const proven = steps.filter(({ u }) => u <= PROVEN);
  const furthest = furthestOf(proven.length > 0 ? proven : steps);
  return { step: { value: Math.abs(furthest.off), unit: '%' }, stepUncertainty: { value: furthest.u, unit: '%' } };
}

/** The overall scale is a question about tyre, final drive or display, never a level. */
function scaleNote({ scale }: Matching, limit: number): { notes: string[]; measures: Record<string, Measure> } {
  if (Number.isNaN(scale)) return { notes: [], measures: {} };
  const off = 100 * (scale - 1);
  const measures = { overall: { value: off, unit: '%' } };
  if (exceeds(Math.abs(off), 100 * SCALE_U, limit, '>') !== 'beyond') return { notes: [], measures };
  return {
    measures,
    notes: [
      `All gears together turn the engine ${signed(off)} % against final drive and tyre of the profile, the steps between them aside: ask which tyres and which final drive are fitted. A speed display that reads high (UN R39 allows it, from memory) lowers the figure.`,
    ],
  };
}

function agreementNote(agreement: number): string[] {
  if (Number.isNaN(agreement) || agreement >= 0.9) return [];
  return [
    `The gear that the control unit reports and the gear by engine over road speed agree in ${figure(100 * agreement, 0)} % of the settled samples only: ${listed(['the gear column may be late', 'it may show the gear that is wanted'])}.`,
  ];
}
