import { carById } from '../cars.js';
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
    tractionUnseen(draft, random) {
      draft.ambient = { ...draft.ambient, grip: random.range(0.5, 0.65) };
      prepare(draft, 2000);
      draft.kept.delete('wheelSpeed');
      draft.dropped.add('wheelSpeed');
    },
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
  for (const id of ['engineTorque', 'engineTorqueTarget', 'pedalPosition', 'wheelSpeed']) draft.kept.add(id);
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm, toRpm: draft.car.engine.revLimit - 600 } as const;
  insertWarm(draft.script, [pull, pull, pull]);
}

/** Share of the demand that is missing in the middle of each long pull, and the torque of the engine against its name plate. */
function truth(sim: Simulation): TrueFinding {
  const wanted = sim.signals.get('engineTorqueTarget')!;
  const actual = sim.signals.get('engineTorque')!;
  const rpm = sim.signals.get('engineSpeed')!;
  const rated = carById(sim.car.id).engine.ratedTorque;
  const missing: number[] = [];
  let top = 0;
  for (const { from, to } of sim.truth.pulls) {
    const shares: number[] = [];
    for (let i = Math.round((from + 1.6) * sim.rate); i < to * sim.rate; i++) {
      if (!(wanted[i]! > 50 && actual[i]! > 0.2 * wanted[i]!)) continue;
      shares.push(1 - actual[i]! / wanted[i]!);
      if (rpm[i]! >= 2500 && rpm[i]! <= 4800) top = Math.max(top, actual[i]!);
    }
    if (shares.length < 1.5 * sim.rate) continue;
    shares.sort((a, b) => a - b);
    missing.push(shares[shares.length >> 1]!);
  }
  missing.sort((a, b) => b - a);
  // The second largest: once is not again and again.
  const held = missing[1] ?? 0;
  const ceiling = missing.length >= 3 ? top / rated : 1;
  const level = held > 0.1 || ceiling < 0.85 ? 'repair' : 'none';
  const margin = missing.length < 2 ? 9 : Math.min(Math.abs(held - 0.1), Math.abs(ceiling - 0.85));
  return { level, measures: missing.length < 2 ? {} : { largest: missing[0]! }, margin };
}
