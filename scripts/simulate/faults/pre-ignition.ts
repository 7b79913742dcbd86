import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** engine.pre-ignition: one cylinder lights by itself at low speed under boost, once or again and again. */
export const preIgnition: FaultFamily = {
  rule: 'engine.pre-ignition',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const cylinder = random.int(1, draft.car.engine.cylinders);
    const times = level === 'under' ? 0 : level === 'watch' ? 1 : 2 + Math.round(2 * dial);
    const retard = 8 + 6 * dial;
    draft.disturb.push((plant) => {
      plant.preIgnition = { cylinder, retard, times };
    });
    prepare(draft);
    if (random.chance(0.4)) draft.added.add(`preIgnitionCount.cylinder${cylinder}`);
    return { rule: this.rule, level, note: `cylinder ${cylinder}, ${times} times`, dialled: { times } };
  },
  truth,
  decoys: {
    /** Knock on several cylinders as the pedal goes down. */
    tipIn(draft, random) {
      prepare(draft);
      draft.disturb.push((plant) => {
        plant.tipInRetard = random.range(4, 7);
      });
      insertWarm(draft.script, [{ kind: 'tipIn', times: 6 }]);
    },
    knockHigherUp(draft, random) {
      prepare(draft);
      draft.disturb.push((plant) => {
        plant.knock.push({ cylinders: [1, 2], retard: random.range(4, 7), from: 3400, to: 5200, pulls: [1, 2, 3] });
      });
    },
  },
};

function prepare(draft: DriveDraft): void {
  for (const id of ['knockRetard', 'engineTorque', 'airMassFlow', 'pedalPosition', 'gear']) draft.kept.add(id);
  draft.script.splice(0, draft.script.length, ...draft.script.filter(({ kind }) => kind !== 'pull'));
  const gear = draft.car.transmission.gears.length > 6 ? 6 : 5;
  const pull = { kind: 'pull', gear, fromRpm: 1600, toRpm: 3600 } as const;
  insertWarm(draft.script, [
    pull,
    { kind: 'cruise', speed: 90, duration: 15 },
    pull,
    { kind: 'cruise', speed: 90, duration: 15 },
    pull,
    { kind: 'cruise', speed: 90, duration: 15 },
    pull,
  ]);
  atLeast(draft, 10);
}

/** What the control unit had to answer. */
function truth(sim: Simulation): TrueFinding {
  let events = 0;
  for (let c = 1; c <= sim.car.engine.cylinders; c++) {
    const counter = sim.signals.get(`preIgnitionCount.cylinder${c}`)!;
    events += counter[sim.samples - 1] ?? 0;
  }
  return { level: events >= 2 ? 'repair' : events === 1 ? 'watch' : 'none', measures: { events }, margin: 1 };
}
