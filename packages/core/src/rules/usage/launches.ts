import { PULL_AWAYS, type PullAway } from '../../derived/pull-aways.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal } from '../../derived/recipe.js';
import { SPEED } from '../../derived/speed.js';
import { TRIP } from '../../derived/trip.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeLaunches } from './launches-judgement.js';
import { judgeStart } from './launches-start.js';
import { storedOf } from './launches-stored.js';

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
    derived: [PULL_AWAYS, SPEED, TRIP, READ_OUT],
    conditions: ['drive with starts from standstill'],
  },
  readOuts: true,
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
    'slow logs: counted only where the bounds of the first second leave no doubt, and the hold was seen in two samples',
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
    const readOut = !isRefusal(view.derive(READ_OUT));
    const stored = storedOf(view.optional('launchCount'), view.optional('odometer'), readOut);
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
      refused: isRefusal(pullAways) && !readOut ? pullAways.reason : undefined,
      certainties: read.flatMap((channel) => (channel ? [channel.certainty] : [])),
      stored,
    };
  },
  judge: judgeLaunches,
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
