import { FIRINGS } from '../../derived/firings.js';
import { maskOf } from '../../derived/intervals.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { MISFIRES, type Misfires } from '../../derived/misfires.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { IDLE, PULLS } from '../../derived/segments.js';
import { sum } from '../../math/mean.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { SEVERITIES } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type RuleEvent,
  type Severity,
} from '../rule.js';
import { clockTime, figure } from '../wording.js';
import { LONG, SHORT, sumWhere, type Window, windowsBeyond } from './misfire-reading.js';
import { misfiresByRoughness } from './misfire-roughness.js';
import { adviceOf, causesOf, leading, leftNote, type Pattern, rateText, whereOf } from './misfire-wording.js';

const CP = 'common practice, no source';
const CCR = 'from memory: 13 CCR 1968.2(e)(3)';
/** Windows of 1000 revolutions that must show it. */
const WINDOWS = 2;
/** Revolutions without a finding that it takes to say the engine fires. */
const ENOUGH = 3000;
/** Revolutions of these under load: weak ignition and lack of fuel miss there first. */
const UNDER_LOAD = SHORT;
/** Seconds for which the lamp must flash. */
const FLASHES = 1;

const limit = (name: Severity, value: number, source: string, about: string): LimitDefinition => ({
  name,
  value,
  unit: '%',
  comparison: '>=',
  source,
  about,
});
const limits = [
  limit('watch', 1, CCR, `firings missed, in ${WINDOWS} windows of ${LONG} revolutions`),
  limit('repair', 2, CP, `firings missed, in ${WINDOWS} windows of ${LONG} revolutions`),
  limit('stop', 5, CCR, `firings missed in one window of ${SHORT} revolutions: the catalyst overheats`),
];

interface Observation {
  readonly basis: 'counter' | 'roughness' | 'lamp';
  readonly revolutions: number;
  /** Revolutions of these under load; why that is not known. */
  readonly loaded: number | Refusal;
  readonly pattern: Pattern;
  readonly highest: Window | undefined;
  /** Windows beyond each limit; stop also from one long window. */
  readonly beyond: Readonly<Record<Severity, readonly Window[]>>;
  readonly flashing: { readonly from: number; readonly to: number } | undefined;
  readonly certain: readonly { readonly certainty: Certainty }[];
  readonly silent: boolean;
  readonly notes: readonly string[];
}

export const misfire = defineRule({
  id: 'engine.misfire',
  system: 'engine',
  question: 'Does it misfire, how often, and which cylinder?',
  why: 'A missed firing sends raw fuel into the catalyst and shakes the engine; often enough it melts the catalyst, and it always has a cause that gets worse.',
  weight: 3,
  needs: {
    channels: ['engineSpeed'],
    optional: ['misfireCount', 'engineRoughness', 'warningLampFlashing'],
    derived: [MISFIRES, FIRINGS, IDLE, LOAD_FRACTION, PULLS],
    conditions: [`>= ${ENOUGH} revolutions at idle, cruise and under load with the misfire counters`],
  },
  limits,
  method:
    'Steps of the misfire counters, made monotonic, are set against the firings that the engine made meanwhile (revolutions times half the cylinders), in windows of revolutions that do not overlap. A window that is no worse than the worst of many is by chance, at the rate of the drive or of the 1000 revolutions around it, does not grade. Clear takes revolutions under load as well. Without counters single readings of the roughness of one cylinder far off its others are counted: a lower bound, and never more than a watch. A flashing engine lamp is a stop by itself.',
  decoys: [
    'fuel cut, ignition cut at the speed limiter, in shifts, by traction or launch control: left out, with a second after',
    'cylinders shut off by design: left out by their flag',
    'counter reset: a step down counts nothing',
    'averages over earlier driving cycles, and numbers that stand: no evidence of this drive',
    'torn readings: back at once, or more than the cylinder could have fired',
    'rough road: shakes the roughness of all cylinders alike',
  ],
  cautions: [
    'Flashing engine lamp: take the load off and stop; the catalyst can set fire to grass and insulation.',
    'Ignition coils carry a dangerous voltage: swap parts with the engine and ignition off.',
  ],
  proves:
    'Ten minutes with cold start, idle, cruise and one full-load pull where lawful and safe, with the misfire counter of each cylinder recorded and the number of cylinders in the profile.',
  observe(view, context) {
    const counters = view.derive(MISFIRES);
    const flashing = flashOf(view.optional('warningLampFlashing'), view.optional('engineSpeed'), view.time);
    const byRoughness = isRefusal(counters) ? misfiresByRoughness(view, view.family('engineRoughness')) : undefined;
    const misfires = isRefusal(counters) ? byRoughness : counters;
    if (misfires === undefined) {
      if (!isRefusal(counters)) throw new Error('counters without misfires');
      if (flashing === undefined) return refuse(counters.reason, counters.missing);
      return lampOnly(flashing);
    }
    const named = context.limits();
    const watch = windowsBeyond(misfires, view.time, LONG, named.watch!);
    const repair = windowsBeyond(misfires, view.time, LONG, named.repair!).beyond;
    const short = windowsBeyond(misfires, view.time, SHORT, named.stop!);
    const long = windowsBeyond(misfires, view.time, LONG, named.stop!).beyond;
    const idle = view.derive(IDLE);
    const load = view.derive(LOAD_FRACTION);
    const loaded = isRefusal(load) ? undefined : load.loaded;
    const pulls = view.derive(PULLS);
    const pulled = isRefusal(pulls) ? undefined : maskOf(pulls, view.time.length);
    const strained = loaded === undefined || sumWhere(misfires.revolutions, loaded) === 0 ? (pulled ?? loaded) : loaded;
    return {
      basis: byRoughness === undefined ? 'counter' : 'roughness',
      revolutions: sum(misfires.revolutions),
      loaded: strained === undefined ? (load as Refusal) : sumWhere(misfires.revolutions, strained),
      pattern: patternOf(misfires, isRefusal(idle) ? undefined : maskOf(idle, view.time.length), loaded),
      highest: watch.highest ?? short.highest,
      beyond: { watch: watch.beyond, repair, stop: short.beyond.length > 0 ? short.beyond : long },
      flashing,
      certain: misfires.columns.map(({ channel }) => channel),
      silent: misfires.silent,
      notes: [
        ...leftNote(misfires.left),
        ...(misfires.assumed ? [`${misfires.cylinders} cylinders taken from the numbers of the counters.`] : []),
        ...(byRoughness === undefined
          ? []
          : ['No misfire counter recorded: told from the roughness of each cylinder, a lower bound.']),
      ],
    } satisfies Observation;
  },
  judge,
});

function lampOnly(flashing: Observation['flashing']): Observation {
  return {
    basis: 'lamp',
    revolutions: 0,
    loaded: 0,
    pattern: { byCylinder: new Map(), total: 0, idle: Number.NaN, load: Number.NaN },
    highest: undefined,
    beyond: { watch: [], repair: [], stop: [] },
    flashing,
    certain: [],
    silent: false,
    notes: [],
  };
}

type Column = { readonly values: Float64Array; readonly quality: { readonly constant: boolean } } | undefined;

/** First stretch of at least a second in which the lamp flashes with the engine running; a column that never changes is dead. */
function flashOf(lamp: Column, speed: Column, time: Float64Array): Observation['flashing'] {
  if (lamp === undefined || speed === undefined || lamp.quality.constant) return undefined;
  let from = -1;
  let to = -1;
  for (let i = 0; i < time.length; i++) {
    if (lamp.values[i]! > 0 && speed.values[i]! >= 300) {
      // The flag may follow the lamp on and off.
      if (from < 0 || time[i]! - time[to]! > 2) from = i;
      to = i;
      if (time[to]! - time[from]! >= FLASHES - 1e-6) return { from: time[from]!, to: time[to]! };
    }
  }
  return undefined;
}

function patternOf(misfires: Misfires, idle: Uint8Array | undefined, loaded: Uint8Array | undefined): Pattern {
  const total = sum(misfires.added);
  const turned = sum(misfires.revolutions);
  const share = (mask: Uint8Array | undefined): number =>
    mask === undefined
      ? Number.NaN
      : sumWhere(misfires.added, mask) / total / (sumWhere(misfires.revolutions, mask) / turned);
  const byCylinder = new Map<number, number>();
  for (const { cylinder, count } of misfires.columns) if (cylinder !== undefined) byCylinder.set(cylinder, count);
  return { byCylinder, total, idle: share(idle), load: share(loaded) };
}

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const pattern = joined(all.map((each) => each.pattern));
  const revolutions = all.reduce((total, each) => total + each.revolutions, 0);
  const highest = all.reduce<Window | undefined>(
    (a, { highest: b }) => (b !== undefined && (a === undefined || b.rate > a.rate) ? b : a),
    undefined,
  );
  const counted = all.filter(({ basis }) => basis !== 'lamp');
  const surely = counted.some(({ basis }) => basis === 'counter');
  const base = {
    measures: {
      ...(counted.length > 0 ? { misfires: { value: pattern.total }, revolutions: { value: revolutions } } : {}),
      ...(highest === undefined ? {} : { rate: { value: highest.rate, unit: '%' } }),
      cylinders: { value: leading(pattern) },
    },
    limits: Object.values(named),
    notes: [...new Set(all.flatMap(({ notes }) => notes))],
  };
  const need: Readonly<Record<Severity, number>> = { watch: WINDOWS, repair: WINDOWS, stop: 1 };
  const levels = SEVERITIES.filter((severity) => {
    const windows = all.flatMap((each) =>
      severity !== 'watch' && each.basis === 'roughness' ? [] : each.beyond[severity],
    );
    return windows.length >= need[severity];
  });
  const flashing = observed.flatMap(({ input, observation: { flashing: flash } }) =>
    flash === undefined ? [] : [{ input, ...flash }],
  );
  const severity = flashing.length > 0 ? 'stop' : levels[levels.length - 1];
  if (severity === undefined) return calm(base, named.watch!.value, highest, revolutions, all, surely);
  const windows = observed.flatMap(({ input, observation }) =>
    observation.beyond[severity].map((window) => ({ input, window })),
  );
  const worst = windows.reduce<Window | undefined>(
    (a, { window }) => (a === undefined || window.rate > a.rate ? window : a),
    undefined,
  );
  const events: RuleEvent[] = [
    ...windows.map(({ input, window: { from, to, rate, misfires } }) => ({
      input,
      from,
      to,
      severity,
      peak: { value: rate, unit: '%' },
      misfires: { value: misfires },
    })),
    ...flashing.map((flash) => ({ ...flash, severity: 'stop' as const })),
  ].sort((a, b) => a.input - b.input || a.from - b.from);
  const told = [
    ...(worst === undefined
      ? []
      : [
          `It misfires: ${rateText(worst.rate, worst.misfires)} at ${clockTime(worst.from)} within ${worst.revolutions} revolutions, ${whereOf(pattern)}; limit ${figure(named[severity]!.value)} %.`,
        ]),
    ...(flashing.length > 0
      ? [`The engine lamp flashed at ${clockTime(flashing[0]!.from)}: misfire that can destroy the catalyst.`]
      : []),
  ];
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: worst === undefined ? 1 : worst.rate - named[severity]!.value,
      uncertainty: worst?.u ?? 0,
      samples: worst?.misfires ?? 5,
      channels: all.flatMap(({ certain }) => certain),
      doubts: [surely || flashing.length > 0 ? 1 : 0.7],
    }),
    events,
    summary: told.join(' '),
    causes: causesOf(pattern),
    advice: adviceOf(pattern, severity === 'stop'),
  };
}

function calm(
  base: Pick<Judgement, 'measures' | 'limits' | 'notes'>,
  limit: number,
  highest: Window | undefined,
  revolutions: number,
  all: readonly Observation[],
  surely: boolean,
): Judgement {
  if (!surely)
    return {
      ...base,
      outcome: 'unproven',
      summary: 'The roughness of the cylinders shows no misfires, but readings between two samples are not seen.',
      missing: { channels: ['misfireCount'], conditions: [] },
    };
  if (revolutions < ENOUGH || highest === undefined)
    return {
      ...base,
      outcome: 'unproven',
      summary: `Only ${figure(revolutions, 0)} revolutions were counted.`,
      missing: { channels: [], conditions: [`>= ${ENOUGH} revolutions with the misfire counters`] },
    };
  const known = all.flatMap(({ loaded }) => (isRefusal(loaded) ? [] : [loaded]));
  const loaded = sum(known);
  if (loaded < UNDER_LOAD) {
    const unknown = all.find((each) => isRefusal(each.loaded))?.loaded;
    return {
      ...base,
      outcome: 'unproven',
      summary: `At most ${figure(highest.rate, 2)} % of the firings were missed in ${highest.revolutions} revolutions, but ${known.length === 0 ? 'nothing recorded tells the load' : `only ${figure(loaded, 0)} revolutions were under load`}: weak ignition and lack of fuel show there first.`,
      missing: {
        channels: known.length === 0 && unknown !== undefined && isRefusal(unknown) ? unknown.missing.channels : [],
        conditions: [`>= ${UNDER_LOAD} revolutions under load with the misfire counters`],
      },
    };
  }
  const near = highest.rate >= limit ? '; once near the limit' : '';
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.max(0, limit - highest.rate),
      uncertainty: highest.u,
      samples: revolutions / LONG,
      channels: all.flatMap(({ certain }) => certain),
      // Counters at 0 all the time may not be served.
      doubts: [all.every(({ silent }) => silent) ? 0.85 : 1],
    }),
    summary: `At most ${figure(highest.rate, 2)} % of the firings were missed in ${highest.revolutions} revolutions, of ${figure(revolutions, 0)} counted (limit ${figure(limit)} %)${near}.`,
  };
}

function joined(patterns: readonly Pattern[]): Pattern {
  const byCylinder = new Map<number, number>();
  let total = 0;
  for (const pattern of patterns) {
    total += pattern.total;
    for (const [cylinder, count] of pattern.byCylinder)
      byCylinder.set(cylinder, (byCylinder.get(cylinder) ?? 0) + count);
  }
  const weighed = (of: (pattern: Pattern) => number): number => {
    const known = patterns.filter((pattern) => pattern.total > 0 && !Number.isNaN(of(pattern)));
    const weight = known.reduce((sum, pattern) => sum + pattern.total, 0);
    return weight === 0 ? Number.NaN : known.reduce((sum, pattern) => sum + pattern.total * of(pattern), 0) / weight;
  };
  return { byCylinder, total, idle: weighed(({ idle }) => idle), load: weighed(({ load }) => load) };
}
