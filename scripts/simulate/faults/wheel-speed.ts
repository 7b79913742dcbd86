import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf, stretchesOf } from './settled.js';

/** driveline.wheel-speed: a sensor that reads wrong or loses its signal at walking pace, a crooked car. */
export const wheelSpeed: FaultFamily = {
  rule: 'driveline.wheel-speed',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const wheel = random.int(0, 3);
    const kind = level === 'repair' ? random.pick(['sensor', 'lost', 'offset'] as const) : 'offset';
    const sign = random.chance(0.5) ? 1 : -1;
    const offset =
      sign * (level === 'under' ? 0.5 + 1.6 * dial : level === 'watch' ? 4.2 + 2.6 * dial : 9.2 + 5 * dial);
    const factor = 1 + sign * (0.036 + 0.05 * dial);
    const below = 6 + 6 * dial;
    draft.disturb.push((plant) => {
      if (kind === 'offset') plant.steeringOffset = offset;
      if (kind === 'sensor') plant.wheelFactor[wheel] = factor;
      if (kind === 'lost') plant.wheelLostBelow[wheel] = below;
    });
    insertWarm(draft.script, [
      { kind: 'town', duration: 60, limit: 50 },
      { kind: 'cruise', speed: 75, duration: 60 },
    ]);
    for (const id of ['wheelSpeed', 'steeringAngle', 'yawRate']) draft.kept.add(id);
    return { rule: this.rule, level, note: `${kind}, wheel ${wheel}`, dialled: { offset, factor, below } };
  },
  truth,
  decoys: {
    roadCrown(draft, random) {
      const crown = random.range(-1.5, 1.5);
      draft.disturb.push((plant) => {
        plant.steeringOffset = crown;
      });
    },
    otherTyre(draft, random) {
      const size = 1 + random.range(-0.02, 0.02);
      draft.disturb.push((plant) => {
        plant.circumference = [size, 1, 1, 1];
      });
    },
    tightBends(draft) {
      insertWarm(draft.script, [{ kind: 'fullLock', duration: 30 }]);
    },
    hardBraking(draft) {
      insertWarm(draft.script, [{ kind: 'circuit', duration: 60, top: 120, corner: 60 }]);
    },
    sensorFloor(draft, random) {
      const floor = random.range(1.5, 2.6);
      draft.disturb.push((plant) => {
        plant.wheelLostBelow = [floor, floor, floor, floor];
      });
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  const { plant } = sim;
  const reads = plant.wheelFactor.map((f, k) => f / plant.circumference[k]!);
  const deviations = reads.map((r, k) => {
    const others = reads.filter((_x, o) => o !== k).sort((a, b) => a - b);
    return 100 * Math.abs(r / others[1]! - 1);
  });
  const deviation = Math.max(...deviations);
  const offset = plant.steeringOffset;
  let dropOuts = 0;
  for (const [k, below] of plant.wheelLostBelow.entries()) {
    // A floor that all sensors share is none of one wheel.
    if (below <= 3 || plant.wheelLostBelow.every((x) => x === below)) continue;
    const other = signalOf(sim, `wheelSpeed.${k === 0 ? 'rearLeft' : 'frontLeft'}`);
    dropOuts = Math.max(dropOuts, stretchesOf(sim, (i) => other[i]! >= 3 && other[i]! < below, 0.4).length);
  }
  const level =
    deviation > 3 || dropOuts >= 3 || Math.abs(offset) > 8 ? 'repair' : Math.abs(offset) > 3 ? 'watch' : 'none';
  const margin = Math.min(
    nearest(deviation, [3]),
    nearest(Math.abs(offset), [3, 8]),
    dropOuts === 0 ? Number.POSITIVE_INFINITY : Math.abs(dropOuts - 2.5),
  );
  return { level, measures: { deviation, steeringOffset: offset }, margin };
}
