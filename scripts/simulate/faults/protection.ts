import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** Share of the demand that gets through. */
const SHARE = { under: [0.99, 0.93], repair: [0.84, 0.5] } as const;

/** engine.protection: the control unit holds torque back, pull after pull. */
export const protection: FaultFamily = {
  rule: 'engine.protection',
  levels: ['repair'],
  apply(draft, level, dial, random) {
    const [from, to] = SHARE[level === 'under' ? 'under' : 'repair'];
    const share = from + (to - from) * dial;
    draft.disturb.push((plant) => {
      plant.torqueCeiling = share;
    });
    prepare(draft, random.range(1800, 2200));
    return { rule: this.rule, level, note: `${Math.round(100 * share)} % let through`, dialled: { share } };
  },
  truth,
  decoys: {
    /** Wet road: the traction control takes torque again and again. */
    traction(draft, random) {
      draft.ambient = { ...draft.ambient, grip: random.range(0.5, 0.65) };
      prepare(draft, 2000);
    },
    /** Through the gears at full pedal, shift after shift. */
    shifts(draft, random) {
      prepare(draft, 2000);
      insertWarm(draft.script, [{ kind: 'circuit', duration: random.range(60, 90) }]);
    },
    launch(draft) {
      prepare(draft, 2000);
      insertWarm(draft.script, [
        { kind: 'launch', to: 90 },
        { kind: 'stop', stand: 5 },
      ]);
    },
  },
};

function prepare(draft: DriveDraft, fromRpm: number): void {
  for (const id of ['engineTorque', 'engineTorqueTarget', 'pedalPosition']) draft.kept.add(id);
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm, toRpm: draft.car.engine.revLimit - 600 } as const;
  insertWarm(draft.script, [pull, pull, pull]);
}

/** What is held back of the demand during the pulls: the dial itself, where a pull was long enough to show it. */
function truth(sim: Simulation): TrueFinding {
  const held = 1 - sim.plant.torqueCeiling;
  const shown = sim.truth.pulls.filter(({ from, to }) => to - from > 3.2).length;
  const level = shown >= 2 && held > 0.1 ? 'repair' : 'none';
  return { level, measures: { largest: held }, margin: shown >= 2 ? Math.abs(held - 0.1) : 9 };
}
