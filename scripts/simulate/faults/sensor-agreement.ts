import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** kPa and share from which two sensors contradict each other. */
const PRESSURE = 3;
const SHARE = Math.log(1.1);

/** provenance.sensor-agreement: one of two sensors that physics ties together lies. */
export const sensorAgreement: FaultFamily = {
  rule: 'provenance.sensor-agreement',
  levels: ['watch'],
  flag: 'contradictions',
  apply(draft, level, dial, random) {
    prepare(draft);
    const kind = random.pick(['torque', 'air', 'manifold'] as const);
    const up = random.chance(0.5);
    const logged = { torque: 1, air: 1, manifold: 0 };
    if (kind === 'manifold') {
      const size = level === 'under' ? 0.2 + 1 * dial : 5.6 + 7 * dial;
      logged.manifold = up ? size : -size;
      draft.tuned.set('manifoldPressure', { offset: logged.manifold });
    } else {
      const size = level === 'under' ? 1 + 0.02 * dial : 1.2 + 0.25 * dial;
      const scale = up ? size : 1 / size;
      logged[kind] = scale;
      if (kind === 'air') draft.tuned.set('airMassFlow', { scale });
      else for (const id of ['engineTorque', 'engineTorqueTarget']) draft.tuned.set(id, { scale });
    }
    draft.disturb.push((plant) => {
      plant.logged = logged;
    });
    return { rule: this.rule, level, note: kind, dialled: {} };
  },
  truth,
  decoys: {
    /** Thin air: every pressure is low together. */
    highUp(draft, random) {
      draft.ambient.altitude = random.range(1500, 2300);
      prepare(draft);
    },
    /** Knock takes ignition back in the pulls: less torque from the same air. */
    knocks(draft, random) {
      prepare(draft);
      const retard = random.range(3, 5);
      draft.disturb.push((plant) => {
        plant.hotChargeRetard = retard;
      });
    },
    /** The engine stops, and its manifold fills up. */
    stopsOnTheWay(draft) {
      prepare(draft);
      insertWarm(draft.script, [
        { kind: 'stop', stand: 3 },
        { kind: 'restart', off: 6, duration: 5 },
      ]);
    },
  },
};

function prepare(draft: DriveDraft): void {
  draft.script.unshift({ kind: 'coldStart', keyOn: 6, duration: 20 });
  const gear = draft.car.transmission.gears.length > 6 ? 5 : 4;
  const pull = { kind: 'pull', gear, fromRpm: 1900, toRpm: 4800 } as const;
  insertWarm(draft.script, [pull, pull, { kind: 'motorway', speed: 120, duration: 40 }]);
  for (const id of ['engineTorque', 'airMassFlow', 'manifoldPressure', 'barometricPressure', 'engineSpeed'])
    draft.kept.add(id);
}

/** By what the recording adds to the true values. */
function truth(sim: Simulation): TrueFinding {
  const { torque, air, manifold } = sim.plant.logged;
  const apart = [Math.abs(manifold) / PRESSURE, Math.abs(Math.log(torque / air)) / SHARE];
  const worst = Math.max(...apart);
  return { level: worst > 1 ? 'watch' : 'none', measures: {}, margin: Math.abs(worst - 1) };
}
