import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed, Severity } from '../rule.js';
import type { Kind, MixtureEvent, MixtureReading } from './lambda-load-reading.js';
import {
  bankOf,
  clearSummary,
  LEAN_CAUSES,
  mixtureAdvice,
  mixtureSummary,
  RICH_CAUSES,
} from './lambda-load-wording.js';

export interface LambdaLoadObservation {
  readonly readings: readonly MixtureReading[];
  /** Seconds of full load in the drive, settling included. */
  readonly fullLoad: number;
  readonly boostKnown: boolean;
  /** Remarks on what had to be taken for granted. */
  readonly notes: readonly string[];
}

/** Judged full load that "follows its target" takes, s. */
const ENOUGH = 2;
/** Rate (Hz) at which the shortest event brings three fresh samples; and the least at which many good samples still tell. */
const RATE = 6;
const SLOWEST = 2;
const MANY = 10;
/** A sensor that takes longer than this (s) from its first rise to air would show a lean moment late and flat. Common practice, no source. */
const LATE = 0.5;
const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

type Seen = Observed<LambdaLoadObservation>;

interface Placed {
  readonly input: number;
  readonly reading: MixtureReading;
  readonly event: MixtureEvent;
}

/** Beyond which limit an event is, by how much. */
function marginOf(event: MixtureEvent, limits: Readonly<Record<string, Limit>>): number {
  const over: Readonly<Record<Kind, number>> = {
    repair: event.lambda - event.target - limits.repair!.value,
    stop: event.lambda - event.target - limits.stop!.value,
    lean: event.lambda - limits['lean-stop']!.value,
    rich: limits['rich-watch']!.value - event.lambda,
    untargeted: event.lambda - limits['untargeted-watch']!.value,
  };
  return over[event.kind];
}

export function judgeLambdaLoad(observed: readonly Seen[], context: Context): Judgement {
  const limits = context.limits();
  const all = observed.flatMap(({ input, observation }) => observation.readings.map((reading) => ({ input, reading })));
  const readings = all.map(({ reading }) => reading);
  const placed = all.flatMap(({ input, reading }): Placed[] =>
    reading.events.map((event) => ({ input, reading, event })),
  );
  placed.sort(
    (a, b) => RANK[b.event.severity] - RANK[a.event.severity] || marginOf(b.event, limits) - marginOf(a.event, limits),
  );
  const base = {
    measures: measuresOf(readings, distinct(placed)),
    events: placed.map(({ input, event, reading }) => ({
      input,
      from: event.from,
      to: event.to,
      severity: event.severity,
      peak: { value: event.lambda, unit: '1' },
      ...(Number.isNaN(event.target) ? {} : { target: { value: event.target, unit: '1' } }),
      // Banks that are lean together are two lines of one event: each says whose it is.
      ...(new Set(readings.map(({ id }) => id)).size > 1 ? { sensor: bankOf(reading.id) || 'common' } : {}),
    })),
    limits: Object.values(limits),
    notes: [...new Set(observed.flatMap(({ observation }) => observation.notes))],
  };
  const [worst] = placed;
  if (worst !== undefined) {
    const { event, reading } = worst;
    const like = placed.filter((each) => each.event.kind === event.kind);
    const rich = event.kind === 'rich';
    const boostKnown = observed.some(({ observation }) => observation.boostKnown);
    return {
      ...base,
      outcome: 'finding',
      severity: event.severity,
      confidence: confidenceOf({
        margin: marginOf(event, limits),
        uncertainty: reading.uncertainty,
        samples: event.samples,
        channels: [reading],
        doubts: [
          reading.targeted && Number.isNaN(reading.lag) ? 0.9 : 1,
          // Whether this calibration is enriched at all is not known.
          event.kind === 'untargeted' ? (reading.enriched > 1 ? 0.9 : 0.6) : 1,
          event.kind === 'untargeted' && !boostKnown ? 0.8 : 1,
        ],
      }),
      summary: mixtureSummary(
        event,
        [...new Set(like.map((each) => bankOf(each.reading.id)))].sort(),
        limits,
        distinct(like),
        distinct(placed),
      ),
      causes: rich ? RICH_CAUSES : LEAN_CAUSES,
      advice: mixtureAdvice(event.severity, rich),
    };
  }
  return calm(observed, readings, limits, base);
}

/** How many events: those of two banks at the same time count once. */
function distinct(like: readonly Placed[]): number {
  const sorted = [...like].sort((a, b) => a.input - b.input || a.event.from - b.event.from);
  let count = 0;
  let input = -1;
  let until = Number.NEGATIVE_INFINITY;
  for (const each of sorted) {
    if (each.input !== input || each.event.from > until + 1) count++;
    until = each.input === input ? Math.max(until, each.event.to) : each.event.to;
    input = each.input;
  }
  return count;
}

function calm(
  observed: readonly Seen[],
  readings: readonly MixtureReading[],
  limits: Readonly<Record<string, Limit>>,
  base: Pick<Judgement, 'measures'> & object,
): Judgement {
  const fullLoad = observed.reduce((sum, { observation }) => sum + observation.fullLoad, 0);
  const seconds = readings.reduce((most, { seconds: s }) => Math.max(most, s), 0);
  const hz = Math.max(...readings.map((reading) => reading.hz));
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  const rate = [`lambda at >= ${RATE} Hz`];
  const late = readings.find(({ rise }) => rise > LATE);
  if (late !== undefined && fullLoad >= ENOUGH)
    return open(
      `The sensor${bankOf(late.id) === '' ? '' : ` of ${bankOf(late.id)}`} takes ${late.rise.toFixed(1)} s to rise to air in fuel cuts: a lean moment at full load would not be seen on it.`,
      [],
      [`lambda sensors that read air within ${LATE} s of a fuel cut`],
    );
  if (seconds < ENOUGH) {
    return open(
      fullLoad < ENOUGH
        ? 'The engine was not taken to full load, so nothing is known of its mixture there.'
        : 'Full load was never held long enough with a still target to judge the mixture.',
      [],
      [`full-load pull of >= 3 s above 2500 rpm, where lawful and safe`],
    );
  }
  if (readings.some((reading) => reading.undecided)) {
    return open(
      'Single lambda samples at full load are beyond a limit, too few to tell a lean engine from a late sensor.',
      [],
      rate,
    );
  }
  const samples = readings.reduce((sum, reading) => sum + reading.samples, 0);
  const slow = hz < 0.95 * RATE;
  if (hz < SLOWEST || (slow && samples < MANY)) {
    return open(`Lambda is recorded ${hz.toPrecision(2)} times a second: a lean moment would not be seen.`, [], rate);
  }
  const leading = readings.reduce((a, b) => (b.excess > a.excess || Number.isNaN(a.excess) ? b : a));
  if (!leading.targeted) {
    const never = readings.find((reading) => reading.enriched < 1);
    if (never !== undefined) {
      return open(
        `Lambda is ${never.median.toFixed(2)} at full load and no target is recorded: a calibration for lambda 1 and a lean engine look the same.`,
        ['lambdaTarget'],
        [],
      );
    }
  }
  const margin = leading.targeted
    ? limits.repair!.value - (Number.isNaN(leading.excess) ? 0 : leading.excess)
    : limits['untargeted-watch']!.value - leading.median;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin,
      uncertainty: leading.uncertainty,
      samples,
      channels: readings,
      doubts: [slow ? 0.85 : 1, leading.targeted ? 1 : 0.75, leading.targeted && Number.isNaN(leading.lag) ? 0.95 : 1],
    }),
    summary: clearSummary(leading, seconds, limits.repair!),
  };
}

function measuresOf(readings: readonly MixtureReading[], events: number): Record<string, Measure> {
  const measures: Record<string, Measure> = {
    events: { value: events },
    fullLoad: { value: readings.reduce((most, { seconds }) => Math.max(most, seconds), 0), unit: 's' },
  };
  const most = (of: (reading: MixtureReading) => number): number =>
    readings.reduce((top, reading) => (of(reading) > top || Number.isNaN(top) ? of(reading) : top), Number.NaN);
  const optional: readonly (readonly [string, number, string])[] = [
    ['excess', most((r) => r.excess), '1'],
    ['leanest', most((r) => r.leanest), '1'],
    ['lambda', most((r) => r.median), '1'],
    ['lag', most((r) => r.lag), 's'],
  ];
  for (const [name, value, unit] of optional) if (!Number.isNaN(value)) measures[name] = { value, unit };
  return measures;
}
