import { PULL_AWAYS, type PullAway } from '../../derived/pull-aways.js';
import { isRefusal } from '../../derived/recipe.js';
import { SPEED } from '../../derived/speed.js';
import { TRIP } from '../../derived/trip.js';
import { garwoodInterval } from '../../math/count-interval.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { type JudgedStart, judgeStart, SETTLES } from './launches-start.js';
import { type Stored, type StoredCounter, storedOf, storedResult, storedSeverity } from './launches-stored.js';
import { ADVICE, CAUSES, counted, described, eventOf, type Placed, perThousand } from './launches-wording.js';

/** Fewer launches than this say nothing about a habit. */
const HABIT = 2;
/** Two-sided level whose lower end is the one-sided 95 % bound. */
const ONE_SIDED = 0.9;
/** Highest speed (km/h) of a wheel of a standing car, and acceleration (m/s2) that no road tyre gives (common practice). */
const STANDS = 3;
const IMPOSSIBLE = 14;

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  {
    name: 'heldEngineSpeed',
    value: 2500,
    unit: 'rpm',
    comparison: '>=',
    source: CP,
    about: 'engine speed held at standstill',
  },
  {
    name: 'heldPedal',
    value: 60,
    unit: '%',
    comparison: '>=',
    source: CP,
    about: 'or relative pedal held against the brake',
  },
  { name: 'pedal', value: 80, unit: '%', comparison: '>=', source: CP, about: 'relative pedal in the start' },
  {
    name: 'acceleration',
    value: 3.5,
    unit: 'm/s2',
    comparison: '>=',
    source: CP,
    about: 'mean acceleration over the first second',
  },
  { name: 'timeTo40', value: 2.5, unit: 's', comparison: '<=', source: CP, about: 'or time to 40 km/h' },
  {
    name: 'watch',
    value: 5,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'launches per 1000 km, lower 95 % bound (Garwood) of those seen',
  },
  {
    name: 'storedWatch',
    value: 5,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'stored launches per 1000 km of the odometer',
  },
  {
    name: 'storedRepair',
    value: 20,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'stored launches per 1000 km of the odometer',
  },
  { name: 'storedTotal', value: 50, unit: '1', comparison: '>', source: CP, about: 'stored launches in all: repair' },
];

interface LaunchObservation {
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

export const launches = defineRule({
  id: 'usage.launches',
  system: 'usage',
  question: 'How often has it been launched?',
  why: 'A launch puts full torque through slipping clutches and shocks gears, shafts and joints: one costs more life than hundreds of kilometres.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'vehicleSpeed',
      'wheelSpeed',
      'engineSpeed',
      'pedalPosition',
      'launchControlActive',
      'launchCount',
      'odometer',
    ],
    derived: [PULL_AWAYS, SPEED, TRIP],
    conditions: ['drive with starts from standstill'],
  },
  limits,
  method:
    'A launch is a start from at least half a second of standstill with the engine held at speed, or the pedal held against the brake, then a pedal near the floor and a hard first second; or the launch flag with the car under way. ' +
    'No start as hard as that means no launch, whatever the pedal did. Without a pedal channel an engine held at launch speed until the car moves tells a launch from a brisk pull-away; without both it stays open. ' +
    'The rate is a finding only when its lower bound is beyond the limit and at least two were seen, and then a watch at most: past use cannot be repaired. A stored counter is taken as it stands.',
  decoys: [
    'brisk pull-away: the engine was not held before',
    'hill start: too little acceleration',
    'revving in neutral: the engine speed is gone before the car moves',
    'wheelspin on ice: judged by undriven wheels or the acceleration sensor, else left open',
    'creep: neither pedal nor acceleration',
    'slow logs: counted only where the bounds of the first second leave no doubt',
  ],
  cautions: [
    'Launches only on a closed course, within the law, with warm fluid; at most two, with five minutes of cooling between.',
    'Past use cannot be seen in a drive without launches: ask for the stored counter.',
  ],
  proves:
    'A drive with several ordinary starts from standstill, with vehicle speed at 5 Hz or more, engine speed and pedal recorded; for the past, the stored launch counter and the odometer.',
  observe(view, context) {
    const engine = view.optional('engineSpeed');
    const flag = view.optional('launchControlActive');
    const stored = storedOf(view.optional('launchCount'), view.optional('odometer'));
    const pullAways = view.derive(PULL_AWAYS);
    if (isRefusal(pullAways) && Number.isNaN(stored.last)) return pullAways;
    const speed = view.derive(SPEED);
    const trip = view.derive(TRIP);
    const hz = isRefusal(speed) ? Number.NaN : speed.hz;
    const named = context.limits();
    const others = [...view.family('wheelSpeed'), ...view.family('vehicleSpeed')].map((channel) => channel.values);
    const starts = isRefusal(pullAways)
      ? []
      : pullAways
          .filter((start) => stood(start, view.time, others))
          .map((start) =>
            judgeStart(
              start,
              {
                hz,
                speedAtStart: engine ? lastBefore(engine.values, start.row) : Number.NaN,
                // A flag that never changes is a dead column.
                flag:
                  flag && !flag.quality.constant ? isOn(flag, view.time, start.from - 3, start.from + 1) : undefined,
              },
              named,
            ),
          );
    const read = [view.optional('vehicleSpeed'), engine, view.optional('pedalPosition')];
    return {
      starts,
      distance: isRefusal(trip) ? Number.NaN : trip.distance,
      hz,
      refused: isRefusal(pullAways) ? pullAways.reason : undefined,
      certainties: read.flatMap((channel) => (channel ? [channel.certainty] : [])),
      stored,
    };
  },
  judge,
});

/** Wheels that lock under braking are no standstill: at some moment of it every recorded speed must be near zero. */
function stood(start: PullAway, time: Float64Array, speeds: readonly Float64Array[]): boolean {
  if (start.meanAcceleration.value > IMPOSSIBLE && start.undriven) return false;
  for (let i = start.row; i >= 0 && time[i]! >= start.from - start.standstill - 1e-6; i--) {
    if (!speeds.some((values) => values[i]! > STANDS)) return true;
  }
  return speeds.length === 0;
}

function lastBefore(values: Float64Array, row: number): number {
  for (let i = row; i >= 0 && row - i < 1000; i--) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}

function isOn(flag: Channel, time: Float64Array, from: number, to: number): boolean {
  for (let i = 0; i < time.length && time[i]! <= to; i++) if (time[i]! >= from && flag.values[i]! > 0) return true;
  return false;
}

function judge(observed: readonly Observed<LaunchObservation>[], context: Context): Judgement {
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
  const measures = {
    // The best count: certain ones, and those that only a faster log would make certain.
    launches: { value: seen.length + open.filter((each) => each.start.likely).length },
    ...(open.length > 0
      ? { launchesAtLeast: { value: seen.length }, launchesAtMost: { value: seen.length + open.length } }
      : {}),
    starts: { value: placed.length },
    distance: { value: km, unit: 'km' },
    ...(seen.length > 0 && km > 0 ? { perThousandKm: { value: rate }, perThousandKmAtLeast: { value: low } } : {}),
    ...stored.measures,
  };
  const notes = [...notesOf(seen, all), ...stored.notes];
  const common = { measures, events: seen.map(eventOf), limits: Object.values(named), notes };
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
      summary: `${counted(seen.length, 'launch')} in ${km.toFixed(1)} km, the first ${described(seen[0]!.start)}: at least ${perThousand(low)} per 1000 km (95 % bound), watch beyond ${named.watch!.value}.`,
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
  const doubts = [slow, seen.some((each) => each.start.near) ? 0.7 : 1];
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
  const top = worst ? `; the hardest gained ${worst.start.acceleration.toFixed(1)} m/s2 over its first second` : '';
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
