import { exceeds } from '../../derived/exceeds.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Measure, Observed } from '../rule.js';
import { clockTime, counted, figure, listed } from '../wording.js';
import type { ColdLoadReading } from './cold-load-reading.js';

/** Seconds of running with cold oil before "it was not worked hard cold" says anything. */
export const COLD_ENOUGH = 60;
/** Fresh values per second that a time of ten seconds takes: three samples in it. */
const RATE = 0.3;

const CAUSES = [
  'driven hard from cold, out of habit or by somebody in a hurry',
  'a demonstration drive or a dynamometer run without warming up',
  'oil that never gets warm in winter: thermostat open, or trips too short',
];
const ADVICE = [
  'Ask the seller how the car is warmed up, who drives it, and how long the usual trip is.',
  'Look for other signs of it: oil pressure when hot, noise after a cold start, metal in the oil filter.',
  'Have a sample of the engine oil analysed for wear metals before buying.',
  'Drive below half of the rev limit and without full load until the oil has 80 °C.',
];

export interface ColdLoadObservation {
  readonly reading: ColdLoadReading;
  readonly measured: boolean;
  readonly lacking: readonly string[];
  readonly loadKnown: boolean;
  readonly revLimitKnown: boolean;
  readonly channels: readonly { readonly certainty: Certainty }[];
}

/** Weighs the drives: the worst one decides, because each warm-up is its own. */
export function judgeColdLoad(observed: readonly Observed<ColdLoadObservation>[], context: Context): Judgement {
  const named = context.limits();
  const watch = named.watch!;
  const all = observed.map(({ observation }) => observation);
  const worst = observed.reduce((a, b) => (b.observation.reading.surely > a.observation.reading.surely ? b : a));
  const { reading, measured } = worst.observation;
  const coldest = Math.min(...all.map((each) => each.reading.coldest).filter((x) => !Number.isNaN(x)));
  const measures: Record<string, Measure> = {
    hardCold: { value: reading.surely, unit: 's' },
    hardColdLikely: { value: Math.max(...all.map((each) => each.reading.likely)), unit: 's' },
    cold: { value: all.reduce((sum, each) => sum + each.reading.cold, 0), unit: 's' },
    ...(coldest === Number.POSITIVE_INFINITY ? {} : { coldest: { value: coldest, unit: 'degC' } }),
  };
  const base = {
    measures,
    events: observed.flatMap(({ input, observation }) =>
      observation.reading.stretches.map(({ from, to, oil, engineSpeed, load }) => ({
        input,
        from,
        to,
        oil: { value: oil, unit: 'degC' },
        ...(Number.isNaN(engineSpeed) ? {} : { engineSpeed: { value: engineSpeed, unit: 'rpm' } }),
        ...(Number.isNaN(load) ? {} : { loadFraction: { value: load, unit: '1' } }),
      })),
    ),
    limits: Object.values(named),
    notes: notesOf(all),
  };
  const channels = all.flatMap((each) => each.channels);
  const doubts = [measured ? 1 : 0.8, worst.observation.revLimitKnown ? 1 : 0.9, worst.observation.loadKnown ? 1 : 0.9];
  const told = exceeds(reading.surely, reading.uncertainty, watch.value, watch.comparison);
  if (told === 'beyond' && reading.hz >= 0.95 * RATE) {
    const [first] = reading.stretches;
    const hardest = reading.stretches.reduce((a, b) => (b.to - b.from > a.to - a.from ? b : a), first!);
    const revs = Number.isNaN(hardest.engineSpeed) ? '' : `, up to ${figure(hardest.engineSpeed, 0)} rpm`;
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: reading.surely - watch.value,
        uncertainty: reading.uncertainty,
        samples: reading.surely * reading.hz,
        channels: worst.observation.channels,
        doubts,
      }),
      summary: `Worked hard for ${figure(reading.surely, 0)} s with the oil below ${figure(named.oil!.value)} °C (watch beyond ${figure(watch.value)} s), longest at ${clockTime(hardest.from)} with oil at ${figure(hardest.oil, 0)} °C${revs}.`,
      causes: CAUSES,
      advice: ADVICE,
    };
  }
  return calm(
    all,
    told,
    base,
    confidenceOf({
      margin: Math.max(0, watch.value - reading.likely),
      uncertainty: reading.uncertainty,
      samples: measures.cold!.value as number,
      channels,
      doubts,
    }),
    named.oil!.value,
    watch.value,
  );
}

function calm(
  all: readonly ColdLoadObservation[],
  told: 'beyond' | 'near' | 'within',
  base: Pick<Judgement, 'measures'> & object,
  confidence: number,
  oil: number,
  limit: number,
): Judgement {
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  const slow = all.find(({ reading }) => reading.hz < 0.95 * RATE && reading.likely > 0);
  if (slow !== undefined)
    return open(
      'Load and engine speed were recorded too slowly to add up times.',
      [],
      [`engineSpeed at >= ${RATE} Hz`],
    );
  const shown = all.filter(({ reading }) => reading.cold >= COLD_ENOUGH);
  if (shown.length === 0)
    return open(
      `The recording holds hardly any driving with engine oil below ${figure(oil)} °C.`,
      [],
      [`engine oil < ${figure(oil)} °C for >= ${COLD_ENOUGH} s, from a cold start`],
    );
  // What it may have been, had everything been recorded.
  const doubtful = shown.find(
    ({ reading, measured, loadKnown, revLimitKnown }) =>
      reading.possibly > limit &&
      reading.possibly > (measured ? reading.likely : reading.surely) &&
      !(measured && loadKnown && revLimitKnown),
  );
  if (doubtful !== undefined) {
    const { lacking, revLimitKnown } = doubtful;
    const conditions = revLimitKnown ? [] : ['engine.revLimit in the vehicle profile'];
    const what = [...lacking, ...(revLimitKnown ? [] : ['the rev limit'])];
    return open(
      `Up to ${figure(doubtful.reading.possibly, 0)} s may have been hard work with cold oil; ${what.length > 0 ? `${listed(what)} would tell` : 'the recording does not tell'}.`,
      lacking,
      lacking.length + conditions.length > 0
        ? conditions
        : ['engineTorque, or airMassFlow with engine.ratedTorque in the vehicle profile'],
    );
  }
  const likely = Math.max(...shown.map(({ reading }) => reading.likely));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidence * (told === 'near' || likely > limit ? 0.6 : 1),
    summary: `${figure(likely, 0)} s of hard work with the oil below ${figure(oil)} °C (limit ${figure(limit)} s)${told === 'near' || likely > limit ? ', near the limit' : ''}.`,
  };
}

function notesOf(all: readonly ColdLoadObservation[]): string[] {
  const notes: string[] = [];
  const stood = all.filter(({ measured }) => !measured).length;
  if (stood > 0)
    notes.push(
      `Engine oil temperature not recorded in ${counted(stood, 'recording')}: coolant stands in for it through the balance of a warm-up, with a lag of 30 to 480 s and the heat of its own friction (common practice, no source).`,
    );
  if (all.some(({ revLimitKnown }) => !revLimitKnown))
    notes.push('No rev limit in the vehicle profile: high revs without load could not be judged.');
  return notes;
}
