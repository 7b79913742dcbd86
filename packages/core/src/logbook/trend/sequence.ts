import { alarmLevel } from './alarm-level.js';
import { type Evidence, MEMORIES, type Prepared, prepare, weigh } from './evidence.js';
import type { Look } from './looks.js';
import { memoryLikelihood, memoryPriors } from './memory.js';
import { type Clock, clockOf, type Moment, momentOf, tooShort } from './moment.js';
import type { Series } from './series.js';

/** Evidence beyond the alarm level, first in its baseline. */
export interface Alarm {
  /** Look of the car at which it fired, by place. */
  readonly look: number;
  readonly baseline: number;
  readonly direction: 'higher' | 'lower';
  readonly logBayes: number;
  readonly level: number;
}

/** What a measure's last look tells. */
export interface Standing {
  readonly series: Series;
  readonly moment: Moment;
  readonly prepared: readonly Prepared[];
  /** Prior of each prepared autocorrelation. */
  readonly memories: readonly number[];
  readonly evidence: { readonly higher: Evidence; readonly lower: Evidence } | undefined;
  readonly level: number;
  /** Directions of all measures seen so far. */
  readonly tests: number;
  readonly alarms: readonly Alarm[];
}

/**
 * How far below the level the evidence of the look before may be: one drive alone raises no alarm. And how far below it
 * the evidence at the likeliest autocorrelation may be for the others to be asked.
 */
const REACH = 1;

/** Directions in which a measure is judged. */
export function directionsOf({ measure: { worse } }: Series): readonly ('higher' | 'lower')[] {
  return worse === 'either' ? ['higher', 'lower'] : [worse];
}

interface Following {
  readonly series: Series;
  count: number;
  moment: Moment | undefined;
  prepared: Prepared[] | undefined;
  likelihood: Float64Array | undefined;
  readonly alarms: Alarm[];
  readonly alarmed: Set<number>;
  /** Evidence of the look before, where it came near the level. */
  before: Readonly<Record<'higher' | 'lower', number>>;
}

const NOTHING = { higher: Number.NEGATIVE_INFINITY, lower: Number.NEGATIVE_INFINITY };

/** Told evidence as it is held against the level, where it comes near it: for whoever sets the level by simulation. */
export type Watch = (confirmed: number, measure: string) => void;

/**
 * Goes through the looks of a car in their order, each with nothing but what was known by then. The level counts all
 * directions of all measures that have been seen so far.
 * @param level in place of the published one, for simulation
 */
export function follow(
  looks: readonly Look[],
  all: readonly Series[],
  level: (tests: number) => number = alarmLevel,
  watch?: Watch,
): Standing[] {
  const following: Following[] = all.map((series) => ({
    series,
    count: 0,
    moment: undefined,
    prepared: undefined,
    likelihood: undefined,
    alarms: [],
    alarmed: new Set<number>(),
    before: NOTHING,
  }));
  let tests = 1;
  let levelNow = level(tests);
  for (let at = 0; at < looks.length; at++) {
    const fresh = following.filter((each) => each.series.looks[each.count] === at);
    if (fresh.length === 0) continue;
    const clock = clockOf(looks.slice(0, at + 1));
    for (const each of fresh) refresh(each, clock, at === looks.length - 1);
    const seen = following.filter(({ count }) => count > 0);
    tests = seen.reduce((sum, { series }) => sum + directionsOf(series).length, 0);
    levelNow = level(tests);
    const priors = memoryPriors(following.map(({ likelihood }) => likelihood));
    following.forEach((each, m) => {
      if (!fresh.includes(each) || each.moment === undefined || each.moment.withheld !== undefined) return;
      judge(each, priors[m], levelNow, at, watch);
    });
  }
  const priors = memoryPriors(following.map(({ likelihood }) => likelihood));
  return following.flatMap(({ series, moment, prepared, alarms }, m) => {
    if (moment === undefined) return [];
    const memories = [...(priors[m] ?? [])];
    const evidence =
      prepared === undefined || moment.problem.shapes.length === 0
        ? undefined
        : weigh(prepared, memories, moment.problem.shapes);
    return [{ series, moment, prepared: prepared ?? [], memories, evidence, level: levelNow, tests, alarms }];
  });
}

/** What cannot be judged yet is not weighed either, but at the last look of the measure or of the car. */
function refresh(each: Following, clock: Clock, last: boolean): void {
  each.count++;
  const { series, count } = each;
  if (!last && count < series.looks.length && tooShort(series, count, clock)) return;
  each.moment = momentOf(each.series, each.count, clock, each.alarmed);
  const prepared = MEMORIES.flatMap(({ rho }) => prepare(each.moment!.problem, rho) ?? []);
  each.prepared = prepared.length === MEMORIES.length ? prepared : undefined;
  each.likelihood =
    each.prepared === undefined ? undefined : memoryLikelihood(each.prepared, each.moment.problem.shapes[0]);
}

function judge(
  each: Following,
  priors: Float64Array | undefined,
  level: number,
  look: number,
  watch: Watch | undefined,
): void {
  const { series, moment, prepared, alarms, alarmed, before } = each;
  each.before = NOTHING;
  if (prepared === undefined || priors === undefined || moment === undefined) return;
  const likeliest = priors.indexOf(Math.max(...priors));
  const directions = directionsOf(series);
  const first = weigh([prepared[likeliest]!], [1], moment.problem.shapes);
  if (directions.every((direction) => first[direction].logBayes < level - REACH)) return;
  const whole = weigh(prepared, [...priors], moment.problem.shapes);
  each.before = { higher: whole.higher.logBayes, lower: whole.lower.logBayes };
  const baseline = series.baselines[moment.end - 1]!;
  for (const direction of directions) {
    const confirmed = Math.min(whole[direction].logBayes, before[direction] + REACH);
    watch?.(confirmed, series.measure.id);
    if (confirmed <= level || alarms.some((a) => a.baseline === baseline && a.direction === direction)) continue;
    alarms.push({ look, baseline, direction, logBayes: whole[direction].logBayes, level });
    alarmed.add(baseline);
  }
}
