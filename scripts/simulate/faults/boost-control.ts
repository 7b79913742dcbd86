import type { Plant } from '../plant.js';
import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { heldWithin, longPulls, perPull, truePieces } from './full-load.js';
import { signalOf } from './settled.js';

type Way = 'overshoot' | 'over' | 'short' | 'swing';
const DIAL = {
  overshoot: { under: [2, 12], watch: [18, 27], repair: [34, 60] },
  over: { under: [0, 6], watch: [12, 18], repair: [24, 40] },
  short: { under: [0, 5], watch: [14, 19], repair: [26, 50] },
  swing: { under: [1, 5], watch: [12, 22], repair: [12, 22] },
} as const;

/** air.boost-control: late wastegate, wrong level, weak turbocharger, nervous control. */
export const boostControl: FaultFamily = {
  rule: 'air.boost-control',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const way = random.pick(level === 'repair' ? (['overshoot', 'over', 'short'] as const) : WAYS);
    const [from, to] = DIAL[way][level === 'stop' ? 'repair' : level];
    const value = from + (to - from) * dial;
    const frequency = random.range(0.8, 2);
    draft.disturb.push((plant) => set(plant, way, value, frequency));
    prepare(draft, random);
    return { rule: 'air.boost-control', level, note: `${way} ${value.toFixed(1)} kPa`, dialled: { [way]: value } };
  },
  truth,
  decoys: {
    /** The target is logged before a limit of torque, which takes part of it away by the throttle in part of the speed range. */
    targetBeforeThrottle(draft, random) {
      const share = random.range(0.75, 0.88);
      draft.disturb.push((plant) => {
        plant.targetBeforeLimit = share;
        plant.throttleCut = { share: 0.8, from: 0, to: 4200, gears: new Set() };
      });
      prepare(draft, random);
      for (const id of ['engineTorque', 'engineTorqueTarget']) draft.dropped.add(id);
    },
    /** The same where the demand of torque tells it: all that is asked for is delivered. */
    targetBeforeLimits(draft, random) {
      const share = random.range(0.75, 0.88);
      draft.disturb.push((plant) => {
        plant.targetBeforeLimit = share;
      });
      prepare(draft, random);
      for (const id of ['engineTorque', 'engineTorqueTarget']) draft.kept.add(id);
    },
    /** The same with nothing recorded that would tell of the limit. */
    targetBeforeLimitsUnseen(draft, random) {
      const share = random.range(0.75, 0.88);
      draft.disturb.push((plant) => {
        plant.targetBeforeLimit = share;
      });
      prepare(draft, random);
      for (const id of ['throttlePosition', 'engineTorque', 'engineTorqueTarget']) {
        draft.kept.delete(id);
        draft.dropped.add(id);
      }
    },
    /** Pressure sent as a byte stands at 255 kPa while the target goes on. */
    clipped(draft, random) {
      for (const id of ['boostPressure', 'manifoldPressure']) draft.tuned.set(id, { quantum: 1, maximum: 255 });
      prepare(draft, random);
    },
    traction(draft, random) {
      draft.ambient = { ...draft.ambient, grip: random.range(0.5, 0.65) };
      draft.kept.add('wheelSpeed');
      prepare(draft, random);
    },
    altitude(draft, random) {
      draft.ambient = { ...draft.ambient, altitude: random.range(1500, 2300) };
      prepare(draft, random);
    },
    shifts(draft, random) {
      draft.script.splice(draft.script.length - 1, 0, { kind: 'circuit', duration: 70 });
      prepare(draft, random);
    },
  },
};
const WAYS = ['overshoot', 'over', 'short', 'swing'] as const;

function set(plant: Plant, way: Way, value: number, frequency: number): void {
  if (way === 'overshoot') plant.boostOvershoot = { size: value + 1, hold: 0.9 };
  else if (way === 'over') plant.boostOffset = value;
  else if (way === 'short') plant.boostOffset = -value;
  else plant.boostHunt = { amplitude: value, frequency };
}

function prepare(draft: DriveDraft, random: Random): void {
  for (const id of ['boostPressure', 'boostPressureTarget', 'throttlePosition', 'barometricPressure'])
    draft.kept.add(id);
  atLeast(draft, random.pick([10, 20]));
  longPulls(draft, random.range(2000, 2400));
}

/** From the moments at which boost came to its target; limits of the rule catalogue. */
function truth(sim: Simulation): TrueFinding {
  const boost = signalOf(sim, 'boostPressure');
  const target = signalOf(sim, 'boostPressureTarget');
  const barometer = signalOf(sim, 'barometricPressure');
  const rpm = signalOf(sim, 'engineSpeed');
  // What the target says before a limit takes part of it away is no error.
  const limited = sim.plant.targetBeforeLimit < 1;
  const over: { pull: number; value: number }[] = [];
  const level: { pull: number; value: number }[] = [];
  const arrivals = new Map<number, number>();
  const swing = sim.plant.boostHunt.amplitude;
  let swung = 0;
  for (const piece of truePieces(sim)) {
    let arrival = arrivals.get(piece.pull) ?? Number.POSITIVE_INFINITY;
    for (let i = piece.start; i <= piece.end && i < arrival; i++)
      if (target[i]! > barometer[i]! + 10 && boost[i]! - target[i]! >= -10) arrival = i;
    arrivals.set(piece.pull, arrival);
    const due = piece.began + 3 * sim.rate;
    const fell = (i: number): number => target[Math.max(piece.start, i - sim.rate)]! - target[i]!;
    const error = (i: number): number => (target[i]! > barometer[i]! + 10 ? boost[i]! - target[i]! : Number.NaN);
    const settled = (i: number): boolean =>
      Number.isFinite(arrival) ? i >= arrival + 1.5 * sim.rate : i >= due && rpm[i]! >= 3000;
    over.push({
      pull: piece.pull,
      value: heldWithin(sim, piece, (i) => (i >= arrival && fell(i) <= 12 ? error(i) : Number.NaN), 0.3),
    });
    level.push(
      {
        pull: piece.pull,
        value: heldWithin(sim, piece, (i) => (settled(i) && fell(i) <= 12 ? error(i) : Number.NaN), 1.5),
      },
      {
        pull: piece.pull,
        value: heldWithin(sim, piece, (i) => (settled(i) && fell(i) >= -15 && !limited ? -error(i) : Number.NaN), 1.5),
      },
    );
    if (piece.end - Math.max(piece.start, arrival + sim.rate) > (3.5 * sim.rate) / sim.plant.boostHunt.frequency)
      swung++;
  }
  const overshoot = perPull(over)[1] ?? 0;
  const steady = perPull(level)[0] ?? 0;
  const swings = swung > 0 ? swing : 0;
  const found =
    overshoot > 30 || steady > 20 ? 'repair' : overshoot > 15 || steady > 10 || swings > 8 ? 'watch' : 'none';
  // Between a watch and a repair only the level differs: the nearest limit of the three quantities.
  const margin = Math.min(nearest(overshoot, [15, 30]), nearest(steady, [10, 20]), nearest(swings, [8]));
  return { level: found, measures: { overshoot }, margin };
}
