import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** Share of the authority that was learned before the drive. */
const LEARNED = { under: [0.02, 0.3], watch: [0.62, 0.74], repair: [0.92, 1] } as const;

/** fuel.octane-learning: the control unit has learned poor fuel. */
export const octaneLearning: FaultFamily = {
  rule: 'fuel.octane-learning',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [from, to] = LEARNED[level === 'stop' ? 'repair' : level];
    const learned = from + (to - from) * dial;
    prepare(draft, learned, random.chance(0.5));
    if (random.chance(0.5)) draft.added.add('knockLearned');
    return { rule: this.rule, level, note: `${(100 * learned).toFixed(0)} % learned`, dialled: { learned } };
  },
  truth,
  decoys: {
    goodFuelCountsDown: (draft) => prepare(draft, 0.03, true),
    goodFuelCountsUp: (draft) => prepare(draft, 0.03, false),
    justReset(draft, random) {
      prepare(draft, 0, random.chance(0.5));
      draft.disturb.push((plant) => {
        plant.trimReset = true;
      });
    },
    tipIns(draft, random) {
      prepare(draft, 0.05, random.chance(0.5));
      draft.disturb.push((plant) => {
        plant.tipInRetard = 3;
      });
      insertWarm(draft.script, [{ kind: 'tipIn', times: 5 }]);
    },
  },
};

function prepare(draft: DriveDraft, learned: number, down: boolean): void {
  draft.added.add('octaneLearning');
  for (const id of ['knockRetard', 'engineTorque', 'pedalPosition']) draft.kept.add(id);
  draft.disturb.push((plant) => {
    plant.octaneLearned = learned;
    plant.octaneDown = down;
    plant.octaneAuthority = 5;
  });
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm: 2000, toRpm: draft.car.engine.revLimit - 700 } as const;
  insertWarm(draft.script, [pull, pull, pull]);
}

function truth(sim: Simulation): TrueFinding {
  const learned = signalOf(sim, 'knockLearned');
  const degrees = learned[sim.samples - 1]!;
  const share = (100 * degrees) / sim.plant.octaneAuthority;
  const level = share >= 80 ? 'repair' : share >= 50 || degrees >= 3 ? 'watch' : 'none';
  return {
    level: sim.plant.trimReset ? 'none' : level,
    measures: { learned: share },
    margin: Math.min(nearest(share, [50, 80]), nearest(degrees, [3]) * 20),
  };
}
