import { exceeds } from '../../derived/exceeds.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed, Severity } from '../rule.js';
import type { HeatEvent, HeatReading } from './cooling-reading.js';
import { type Thermostat, TOO_COLD, WARM_FROM } from './cooling-thermostat.js';
import {
  COOL_ADVICE,
  COOL_CAUSES,
  clearSummary,
  coolRoadSummary,
  coolStaysSummary,
  coolSummary,
  fallSummary,
  heatAdvice,
  heatCauses,
  heatSummary,
} from './cooling-wording.js';

export interface CoolingObservation {
  readonly certainties: readonly Certainty[];
  readonly heat: Omit<HeatReading, 'series'>;
  readonly hz: number;
  readonly thermostat: Thermostat;
  readonly speedKnown: boolean;
  /** Time constants of a cold start (s) and their relative standard uncertainty, to be followed from drive to drive. */
  readonly warmUps: readonly { readonly fluid: string; readonly seconds: number; readonly relative: number }[];
  /** Reads the same for the whole recording. */
  readonly constant: boolean;
}

/** Warm running that "it does not overheat" takes (s), and how much of it moving. */
const WARM_SECONDS = 300;
const MOVING_SECONDS = 120;
/** A sensor that reads the same for this long (s) is not believed. Common practice, no source. */
const DEAD_AFTER = 900;
const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

type Seen = Observed<CoolingObservation>;

/** The worst overheating of all drives; without one, a thermostat that does not close; else clear or what is missing. */
export function judgeSeen(observed: readonly Seen[], context: Context): Judgement {
  const limits = context.limits();
  const all = observed.map(({ observation }) => observation);
  const channels = all.flatMap(({ certainties }) => certainties.map((certainty) => ({ certainty })));
  const events = observed.flatMap(({ input, observation }) =>
    observation.heat.events.map((event) => ({ input, event, uncertainty: observation.heat.uncertainty })),
  );
  const base = {
    measures: { ...measuresOf(all), ...warmUpOf(all) },
    events: events.map(({ input, event }) => ({
      input,
      from: event.from,
      to: event.to,
      severity: event.severity,
      peak: { value: event.peak, unit: 'degC' },
    })),
    limits: Object.values(limits),
    notes: notesOf(all),
  };
  const worst = events.reduce<(typeof events)[number] | undefined>(
    (a, b) => (a && !hotter(b.event, a.event) ? a : b),
    undefined,
  );
  if (worst !== undefined) {
    const { event, uncertainty } = worst;
    const risen = !Number.isNaN(event.rise);
    return {
      ...base,
      outcome: 'finding',
      severity: event.severity,
      confidence: confidenceOf({
        // The rise is a lower bound already: its margin is in units of the limit.
        margin: risen ? event.rise - limits.rising!.value / 10 : event.peak - limits[event.severity]!.value,
        uncertainty: risen ? 0.05 : uncertainty,
        samples: event.samples,
        channels,
        doubts: [event.leapt ? 0.6 : 1],
      }),
      summary: heatSummary(event, limits, events.length),
      causes: heatCauses(event.where),
      advice: heatAdvice(event.severity),
    };
  }
  const cool = coolOf(all, limits);
  if (cool !== undefined) {
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({ ...cool, channels }),
      summary: cool.summary,
      causes: COOL_CAUSES,
      advice: COOL_ADVICE,
    };
  }
  return calm(all, limits, base, channels);
}

/** Of several cold starts the one that tells most. */
function warmUpOf(all: readonly CoolingObservation[]): Judgement['measures'] {
  const best = new Map<string, CoolingObservation['warmUps'][number]>();
  for (const each of all.flatMap(({ warmUps }) => warmUps))
    if (!(each.relative >= (best.get(each.fluid)?.relative ?? Number.POSITIVE_INFINITY))) best.set(each.fluid, each);
  return Object.fromEntries(
    [...best].map(([fluid, { seconds }]) => [`timeConstant.${fluid}`, { value: seconds, unit: 's' }]),
  );
}

function hotter(a: HeatEvent, b: HeatEvent): boolean {
  const rank = RANK[a.severity] - RANK[b.severity];
  return rank > 0 || (rank === 0 && a.peak > b.peak);
}

interface Cool {
  readonly margin: number;
  readonly uncertainty: number;
  readonly samples: number;
  readonly summary: string;
}

/** Falls below its own level at speed, or never gets warm. */
function coolOf(all: readonly CoolingObservation[], limits: Readonly<Record<string, Limit>>): Cool | undefined {
  let found: Cool | undefined;
  for (const { thermostat, heat } of all) {
    const falls = limits['falls-watch']!;
    const fall = thermostat.level - thermostat.atSpeed;
    // Difference of two levels of one sensor: its tolerance is in neither, its step in both.
    const uncertainty = Math.SQRT2 * heat.uncertainty;
    if (
      !Number.isNaN(fall) &&
      !thermostat.mapped &&
      exceeds(fall, uncertainty, falls.value, falls.comparison) === 'beyond'
    ) {
      const { samples } = thermostat;
      found ??= { margin: fall - falls.value, uncertainty, samples, summary: fallSummary(thermostat, falls) };
    }
    const never = limits['never-warm']!;
    if (thermostat.tooCold) continue;
    const { settled, roadWarm, stays } = thermostat;
    // Standing still warms an engine whose thermostat hangs open: what it holds on the road counts by itself.
    const cold = (x: number): boolean =>
      !Number.isNaN(x) && exceeds(x, heat.uncertainty, never.value, never.comparison) === 'beyond';
    const [level, summary] = cold(settled)
      ? [settled, coolSummary]
      : cold(roadWarm)
        ? [roadWarm, coolRoadSummary]
        : [stays, coolStaysSummary];
    if (!cold(level)) continue;
    found = {
      margin: never.value - level,
      uncertainty: heat.uncertainty,
      samples: 20,
      summary: summary(thermostat, never),
    };
  }
  return found;
}

function calm(
  all: readonly CoolingObservation[],
  limits: Readonly<Record<string, Limit>>,
  base: Pick<Judgement, 'measures'> & object,
  channels: readonly { readonly certainty: Certainty }[],
): Judgement {
  const warm = all.reduce((sum, { thermostat }) => sum + thermostat.warm, 0);
  const moving = all.reduce((sum, { thermostat }) => sum + thermostat.moving, 0);
  const speedKnown = all.some((o) => o.speedKnown);
  const dead = all.find((o) => o.constant && o.thermostat.run >= DEAD_AFTER);
  const hottest = all.reduce((a, b) => (b.heat.peak > a.heat.peak ? b : a));
  const open = (summary: string, conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels: [], conditions },
  });
  if (dead) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The coolant temperature reads ${Math.round(dead.heat.peak)} °C all the time: the sensor is not believed.`,
      missing: { channels: ['coolantTemperature'], conditions: [] },
    };
  }
  const slow = all.find((o) => o.heat.undecided);
  if (slow) {
    return open('Coolant was seen beyond a limit, but with too few samples to tell heat from a disturbed reading.', [
      'coolantTemperature at >= 1.5 Hz',
    ]);
  }
  if (warm < WARM_SECONDS) {
    return open(`The engine was warm for ${Math.round(warm)} s only: too short to show that its cooling holds.`, [
      `coolant >= ${WARM_FROM} degC for >= ${WARM_SECONDS} s with the engine running`,
    ]);
  }
  if (speedKnown && moving < MOVING_SECONDS) {
    return open('The warm engine was hardly driven: standing shows the fan, not the flow.', [
      `warm engine, >= 20 km/h for >= ${MOVING_SECONDS} s`,
    ]);
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limits.watch!.value - hottest.heat.peak,
      uncertainty: hottest.heat.uncertainty,
      samples: Math.max(1, Math.round(warm * hottest.hz)),
      channels,
      doubts: [speedKnown ? 1 : 0.85, all.some((o) => !Number.isNaN(o.thermostat.atSpeed)) ? 1 : 0.95],
    }),
    summary: clearSummary(hottest.heat, hottest.thermostat, limits.watch!),
  };
}

function measuresOf(all: readonly CoolingObservation[]): Record<string, Measure> {
  const highest = (of: (o: CoolingObservation) => number): number =>
    all.reduce((top, o) => (of(o) > top || Number.isNaN(top) ? of(o) : top), Number.NaN);
  const sum = (of: (o: CoolingObservation) => number): number => all.reduce((total, o) => total + of(o), 0);
  const measures: Record<string, Measure> = {
    peak: { value: highest((o) => o.heat.peak), unit: 'degC' },
    events: { value: sum((o) => o.heat.events.length) },
    dwell: { value: sum((o) => o.heat.dwell), unit: 's' },
    warm: { value: sum((o) => o.thermostat.warm), unit: 's' },
  };
  const optional: readonly (readonly [string, number, string])[] = [
    ['peak.standstill', highest((o) => o.heat.standstillPeak), 'degC'],
    ['peak.speed', highest((o) => o.heat.speedPeak), 'degC'],
    ['level', highest((o) => o.thermostat.level), 'degC'],
    [
      'level.speed',
      all.reduce(
        (low, o) => (o.thermostat.atSpeed < low || Number.isNaN(low) ? o.thermostat.atSpeed : low),
        Number.NaN,
      ),
      'degC',
    ],
    ['warmUp', highest((o) => o.thermostat.warmUp), 's'],
  ];
  for (const [name, value, unit] of optional) if (!Number.isNaN(value)) measures[name] = { value, unit };
  return measures;
}

function notesOf(all: readonly CoolingObservation[]): string[] {
  const notes: string[] = [];
  if (all.every((o) => !o.speedKnown)) notes.push('Road speed not recorded: fan and flow cannot be told apart.');
  if (all.some((o) => o.thermostat.mapped && o.thermostat.level - o.thermostat.atSpeed > 5)) {
    notes.push('The coolant level moves between two values as a mapped thermostat makes it: not taken for a fault.');
  }
  if (all.some((o) => o.thermostat.tooCold)) {
    notes.push(`Outside air below ${TOO_COLD} °C: whether the engine gets warm is not judged.`);
  }
  return notes;
}
