import { garwoodInterval } from '../../math/count-interval.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Observed } from '../rule.js';
import { type JudgedStart, SETTLES } from './launches-start.js';
import { type Stored, type StoredCounter, storedResult, storedSeverity } from './launches-stored.js';
import { ADVICE, CAUSES, counted, described, eventOf, type Placed, perThousand } from './launches-wording.js';

/** Fewer launches than this say nothing about a habit. */
const HABIT = 2;
/** Two-sided level whose lower end is the one-sided 95 % bound. */
const ONE_SIDED = 0.9;

/** What one drive shows of launches. */
export interface LaunchObservation {
  readonly starts: readonly JudgedStart[];
  /** km, NaN when it cannot be told. */
  readonly distance: number;
  /** Fresh speeds per second. */
  readonly hz: number;
  /** Why starts could not be looked at. */
  readonly refused: string | undefined;
  readonly certainties: readonly Certainty[];
  readonly stored: StoredCounter;
}

/** Weighs the starts of all drives and the stored counter. */
export function judgeLaunches(observed: readonly Observed<LaunchObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map((each) => each.observation);
  const placed: Placed[] = observed.flatMap(({ input, observation }) =>
    observation.starts.map((start) => ({ input, start })),
  );
  const seen = placed.filter((each) => each.start.answer === 'yes');
  const open = placed.filter((each) => each.start.answer === 'untold');
  const km = all.reduce((sum, o) => sum + (Number.isNaN(o.distance) ? 0 : o.distance), 0);
  const rate = km > 0 ? (1000 * seen.length) / km : Number.NaN;
  const low = km > 0 ? garwoodInterval(seen.length, km / 1000, ONE_SIDED).low : Number.NaN;
  const hz = Math.min(...all.filter((o) => o.hz > 0).map((o) => o.hz));
  const stored = storedResult(
    all.map((o) => o.stored),
    seen.length,
  );
  const likely = open.filter((each) => each.start.likely).length;
  const measures = {
    // The best count: certain ones, and those that only a faster log would make certain.
    launches: { value: seen.length + likely },
    ...(open.length > 0
      ? { launchesAtLeast: { value: seen.length }, launchesAtMost: { value: seen.length + open.length } }
      : {}),
    starts: { value: placed.length },
    distance: { value: km, unit: 'km' },
    ...(seen.length > 0 && km > 0 ? { perThousandKm: { value: rate }, perThousandKmAtLeast: { value: low } } : {}),
    ...stored.measures,
  };
  const notes = [...notesOf(seen, all), ...stored.notes];
  const common = { measures, events: seen.map(eventOf), limits: counting(named), notes };
  const channels = all.flatMap((o) => o.certainties.map((certainty) => ({ certainty })));
  const slow = Number.isFinite(hz) ? 0.6 + 0.4 * Math.min(1, hz / SETTLES) : 0.6;

  const byStore = storedSeverity(stored, named);
  if (byStore) {
    const { severity, words } = byStore;
    const also =
      seen.length > 0 ? ` ${counted(seen.length, 'launch')} in this recording (${described(seen[0]!.start)}).` : '';
    return {
      ...common,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({ margin: 1, uncertainty: 0, samples: 9, channels }),
      summary: `${words}.${also}`,
      causes: CAUSES,
      advice: ADVICE,
    };
  }
  if (seen.length >= HABIT && low > named.watch!.value) {
    const near = seen.filter((each) => each.start.near).length / seen.length;
    const blind = seen.some((each) => each.start.withoutPedal && !each.start.byFlag) ? 0.9 : 1;
    return {
      ...common,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: low - named.watch!.value,
        uncertainty: 0,
        samples: seen.length * Math.max(1, Math.min(hz, 10)),
        channels,
        doubts: [slow, 1 - 0.5 * near, blind],
      }),
      summary: `${counted(seen.length, 'launch')}${likely === 0 ? '' : ` and ${likely} more likely`} in ${km.toFixed(1)} km, the first ${described(seen[0]!.start)}: at least ${perThousand(low)} per 1000 km (95 % bound), watch beyond ${named.watch!.value}.`,
      causes: CAUSES,
      advice: ADVICE,
    };
  }
  if (open.length > 0) return { ...common, outcome: 'unproven', ...openEnd(open, seen.length) };
  if (placed.length === 0 && Number.isNaN(stored.last)) {
    return {
      ...common,
      outcome: 'unproven',
      summary: 'The recording holds no start from standstill, so it says nothing about launches.',
      missing: { channels: [], conditions: ['start from standstill, after at least 0.5 s at rest'] },
    };
  }
  const worst = hardest(placed.filter((each) => each.start.answer === 'no'));
  // The uncertainty of a slow log stands in the bounds already; where hold or pedal ruled a start out, it does not.
  const bounded = placed.every(
    (each) => each.start.acceleration + 2 * each.start.uncertainty < named.acceleration!.value,
  );
  const doubts = [bounded ? 1 : slow, seen.some((each) => each.start.near) ? 0.7 : 1];
  return {
    ...common,
    outcome: 'clear',
    confidence: confidenceOf({
      // What hold or pedal ruled out is ruled out whatever its acceleration.
      margin:
        worst && worst.start.acceleration < named.acceleration!.value
          ? named.acceleration!.value - worst.start.acceleration
          : 1,
      uncertainty: worst && worst.start.acceleration < named.acceleration!.value ? worst.start.uncertainty : 0.4,
      samples: Math.max(1, placed.length) * Math.max(1, Math.min(Number.isFinite(hz) ? hz : 1, 10)),
      channels,
      doubts,
    }),
    summary: clearSummary(seen, placed.length, km, worst, stored),
  };
}

function hardest(placed: readonly Placed[]): Placed | undefined {
  let worst: Placed | undefined;
  for (const each of placed) {
    if (!Number.isNaN(each.start.acceleration) && !(worst && worst.start.acceleration >= each.start.acceleration))
      worst = each;
  }
  return worst;
}

function clearSummary(
  seen: readonly Placed[],
  starts: number,
  km: number,
  worst: Placed | undefined,
  stored: Stored,
): string {
  const counter = Number.isNaN(stored.last) ? '' : ` The stored counter says ${stored.last}.`;
  if (starts === 0) return `No start from standstill in this recording.${counter}`;
  if (seen.length > 0) {
    return `${counted(seen.length, 'launch')} in ${counted(starts, 'start')} over ${km.toFixed(1)} km (${described(seen[0]!.start)}): too few to call it a habit.${counter}`;
  }
  const top = worst ? `; the hardest gained ${worst.start.acceleration.toFixed(1)} m/s² over its first second` : '';
  return `No launch in ${counted(starts, 'start')} over ${km.toFixed(1)} km${top}.${counter}`;
}

function openEnd(open: readonly Placed[], launched: number) {
  const channels = [...new Set(open.flatMap((each) => each.start.channels))];
  const conditions = [...new Set(open.flatMap((each) => each.start.conditions))];
  const first = open[0]!.start;
  const summary =
    `Between ${launched} and ${launched + open.length} launches: ${counted(open.length, 'start')} could have been one (${described(first)}), ` +
    `but ${[...channels.map((id) => `${id} is not recorded`), ...conditions.map((c) => `it takes ${c}`)].join(', ')}.`;
  return { summary, missing: { channels, conditions } };
}

function notesOf(seen: readonly Placed[], all: readonly LaunchObservation[]): string[] {
  const notes: string[] = [];
  const near = seen.filter((each) => each.start.near).length;
  if (near > 0) notes.push(`${counted(near, 'launch')} within the uncertainty of the acceleration limit.`);
  if (seen.some((each) => each.start.withoutPedal && !each.start.byFlag)) {
    notes.push('Pedal not recorded: the engine held at speed until the car moved stands for it.');
  }
  for (const { refused } of all) if (refused !== undefined) notes.push(`Starts not looked at: ${refused}.`);
  return notes;
}

/** The limits that give a level; the others say what a launch is and stand on the rule's page. */
function counting(named: Readonly<Record<string, Limit>>): Limit[] {
  return Object.values(named).filter(({ name }) => name === 'watch' || name.startsWith('stored'));
}
