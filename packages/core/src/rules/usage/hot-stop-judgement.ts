import { exceeds } from '../../derived/exceeds.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Measure, Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';
import type { JudgedStop } from './hot-stop-reading.js';

export interface HotStopObservation {
  readonly stops: readonly JudgedStop[];
  readonly hz: number;
  readonly fastEnough: boolean;
  readonly lacking: readonly string[];
  readonly byTorque: boolean;
  readonly byBoost: boolean;
  readonly channels: readonly { readonly certainty: Certainty }[];
}

/** Fresh values per second: three in the ten seconds of high load. */
export const RATE = 0.3;

const CAUSES = [
  'switched off straight after hard driving, out of habit or not knowing better',
  'a measured run or a demonstration that ended at the kerb',
];
const ADVICE = [
  'Ask the seller how the car is cooled down after hard driving.',
  'Look for oil at the turbocharger outlet and blue smoke after idling; feel the shaft for play when it is cold.',
  'Listen for the turbocharger, and look at how fast boost builds up against other cars of the kind.',
  'Idle or drive gently for two minutes before switching off; change the oil early.',
];

/** Weighs the stops of all drives. */
export function judgeHotStop(observed: readonly Observed<HotStopObservation>[], context: Context): Judgement {
  const named = context.limits();
  const watch = named.watch!;
  const all = observed.map(({ observation }) => observation);
  const placed = observed.flatMap(({ input, observation }) =>
    observation.stops.map((stop) => ({ input, stop, observation, told: told(stop) })),
  );
  function told(stop: JudgedStop): 'beyond' | 'near' | 'within' {
    return exceeds(stop.surely, stop.uncertainty, watch.value, watch.comparison);
  }
  const off = placed.filter(({ stop }) => stop.kind === 'switched-off');
  const hot = off.filter(({ stop, told, observation }) => told === 'beyond' && !stop.pumped && observation.fastEnough);
  const hottest = Math.max(0, ...off.map(({ stop }) => stop.surely));
  const measures: Record<string, Measure> = {
    stops: { value: off.length },
    hotStops: { value: hot.length },
    automaticStops: { value: placed.length - off.length - placed.filter(({ stop }) => stop.kind === 'open').length },
    ...(off.length > 0 ? { highLoad: { value: hottest, unit: 's' } } : {}),
  };
  const base = {
    measures,
    events: hot.map(({ input, stop }) => ({
      input,
      from: Math.max(0, stop.at - named.window!.value),
      to: stop.at,
      severity: 'watch' as const,
      highLoad: { value: stop.surely, unit: 's' },
      ...(Number.isNaN(stop.bmep) ? {} : { bmep: { value: stop.bmep, unit: 'bar' } }),
      ...(Number.isNaN(stop.boost) ? {} : { boost: { value: stop.boost, unit: 'kPa' } }),
      cooled: { value: stop.cooled, unit: 's' },
      toldBy: stop.reason,
    })),
    limits: Object.values(named),
    notes: notesOf(
      all,
      placed.map(({ stop }) => stop),
      watch.value,
    ),
  };
  if (hot.length > 0) {
    const { stop, observation } = hot.reduce((a, b) => (b.stop.surely > a.stop.surely ? b : a));
    const peak = [
      ...(Number.isNaN(stop.bmep) ? [] : [`up to ${figure(stop.bmep)} bar mean effective pressure`]),
      ...(stop.boost > 0 ? [`${figure(stop.boost, 0)} kPa boost`] : []),
    ].join(' and ');
    const more = hot.length > 1 ? ` (${counted(hot.length, 'hot stop')})` : '';
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: stop.surely - watch.value,
        uncertainty: stop.uncertainty,
        samples: stop.samples,
        channels: observation.channels,
        doubts: [stop.certain ? 1 : 0.7],
      }),
      summary: `Engine switched off at ${clockTime(stop.at)} with ${figure(stop.surely, 0)} s of high load in the minute before (watch from ${figure(watch.value)} s), ${peak}, ${figure(stop.cooled, 0)} s after the last of it${more}.`,
      causes: CAUSES,
      advice: ADVICE,
    };
  }
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  const maybe = placed.find(({ stop, told }) => stop.kind === 'open' && told !== 'within');
  if (maybe !== undefined)
    return open(
      `The engine stopped hot at ${clockTime(maybe.stop.at)}, but ${maybe.stop.reason}.`,
      ['selector'],
      ['recording goes on for >= 3 min after the engine is switched off'],
    );
  if (off.length === 0)
    return open(
      placed.length > 0
        ? 'The engine stopped only as an automatic stop does; nobody was seen to switch it off.'
        : 'The recording ends with the engine running: nobody was seen to switch it off.',
      [],
      ['recording goes on for >= 5 s after the engine is switched off'],
    );
  const slow = off.find(({ stop, observation }) => !observation.fastEnough && stop.possibly > 0);
  if (slow !== undefined)
    return open('Load was recorded too slowly to add up times.', [], [`manifoldPressure at >= ${RATE} Hz`]);
  const unknown = off.find(({ stop }) => stop.possibly >= watch.value && stop.possibly > stop.likely);
  if (unknown !== undefined)
    return open(
      `The load before the stop at ${clockTime(unknown.stop.at)} is not known.`,
      unknown.observation.lacking.length > 0 ? unknown.observation.lacking : ['manifoldPressure'],
      ['or engineTorque, with engine.displacement in the vehicle profile'],
    );
  // Seconds of the window that nobody recorded may have been anything.
  const cut = off.find(
    ({ stop }) =>
      stop.recorded < named.window!.value - 1 && stop.surely + named.window!.value - stop.recorded >= watch.value,
  );
  const full = off.filter((each) => each !== cut && each.stop.recorded >= named.window!.value - watch.value);
  if (cut !== undefined && full.length === 0)
    return open(
      `Only ${figure(cut.stop.recorded, 0)} s before the stop were recorded.`,
      [],
      [`recording of the last ${figure(named.window!.value)} s before the engine is switched off`],
    );
  const near =
    off.some(({ told, stop }) => told !== 'within' && !stop.pumped) ||
    off.some(({ stop }) => stop.likely >= watch.value);
  const worst = off.reduce((a, b) => (b.stop.likely > a.stop.likely ? b : a));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.max(0, watch.value - worst.stop.likely),
      uncertainty: worst.stop.uncertainty,
      samples: Math.max(1, worst.stop.recorded * worst.observation.hz),
      channels: worst.observation.channels,
      doubts: [near ? 0.6 : 1, worst.stop.certain ? 1 : 0.9, worst.observation.byTorque ? 1 : 0.9],
    }),
    summary: `Switched off at ${clockTime(worst.stop.at)} with ${figure(worst.stop.likely, 0)} s of high load in the minute before (limit ${figure(watch.value)} s)${worst.stop.pumped ? ', the coolant pump ran on' : near ? ': near the limit' : ''}.`,
  };
}

function notesOf(all: readonly HotStopObservation[], stops: readonly JudgedStop[], limit: number): string[] {
  const notes: string[] = [];
  const automatic = stops.filter(({ kind }) => kind === 'automatic');
  if (automatic.length > 0)
    notes.push(`${counted(automatic.length, 'stop')} left out: ${automatic[0]!.reason} (automatic stop).`);
  if (stops.some(({ kind, certain }) => kind === 'switched-off' && !certain))
    notes.push('Selector not recorded: a stop without a restart is taken as switched off.');
  if (stops.some(({ pumped, surely }) => pumped && surely >= limit))
    notes.push('The electric coolant pump ran on after a hot stop and cooled the turbocharger: no finding.');
  if (all.every(({ byTorque, byBoost }) => !byTorque && byBoost))
    notes.push('Engine torque or displacement not known: load judged by boost alone.');
  return notes;
}
