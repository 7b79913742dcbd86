import { carById } from '../cars.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** engine.power: the engine makes far less than the seller claims. */
export const power: FaultFamily = {
  rule: 'engine.power',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const share = level === 'under' ? 0.99 - 0.06 * dial : 0.76 - 0.24 * dial;
    weaken(draft, share);
    pulls(draft, random.range(2300, 2600));
    return { rule: this.rule, level, note: `${Math.round(100 * share)} % of the claim`, dialled: { share } };
  },
  truth,
  decoys: {
    /** All of it, on a hot day in the mountains. */
    hotAndHigh(draft, random) {
      weaken(draft, 1);
      draft.ambient = { ...draft.ambient, temperature: random.range(30, 38), altitude: random.range(900, 1500) };
      pulls(draft, 2400);
    },
    /** Pulls that end long before the peak of power say nothing of it. */
    shortPulls(draft) {
      weaken(draft, 1);
      const kept = draft.script.filter(({ kind }) => kind !== 'pull' && kind !== 'launch');
      draft.script.splice(0, draft.script.length, ...kept);
      const pull = { kind: 'pull', gear: 4, fromRpm: 1900, toRpm: 3300 } as const;
      insertWarm(draft.script, [pull, pull, pull]);
    },
    /** Uphill, wind against. */
    uphill(draft, random) {
      weaken(draft, 1);
      draft.ambient = { ...draft.ambient, wind: random.range(2, 6) };
      const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
      const toRpm = draft.car.engine.revLimit - 400;
      const pull = { kind: 'pull', gear, fromRpm: 2400, toRpm, grade: random.range(0.01, 0.03) } as const;
      insertWarm(draft.script, [pull, pull, pull]);
    },
    /** The control unit reads its torque a quarter low: the map was raised, its model was not. */
    channelTooLow(draft, random) {
      weaken(draft, 1);
      const scale = random.range(0.7, 0.8);
      for (const id of ['engineTorque', 'engineTorqueTarget']) draft.tuned.set(id, { scale });
      draft.kept.add('airMassFlow');
      pulls(draft, 2400);
    },
  },
};

/** The claim is the name plate; the engine makes `share` of it. */
function weaken(draft: DriveDraft, share: number): void {
  const plate = carById(draft.car.id).engine;
  draft.claims = { ...draft.claims, power: `${plate.ratedPower} kW` };
  draft.listed ??= draft.car;
  const { engine } = draft.car;
  draft.car = {
    ...draft.car,
    engine: {
      ...engine,
      ratedPower: plate.ratedPower * share,
      ratedTorque: engine.ratedTorque * Math.min(1, share + 0.05),
    },
  };
  for (const id of ['engineTorque', 'airMassFlow', 'manifoldPressure', 'pedalPosition']) draft.kept.add(id);
}

function pulls(draft: DriveDraft, fromRpm: number): void {
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear, fromRpm, toRpm: draft.car.engine.revLimit - 300 } as const;
  insertWarm(draft.script, [pull, pull, pull]);
}

/** Best power of the pulls over the claim; the claim exists only where it was set down, and is always the name plate. */
function truth(sim: Simulation): TrueFinding {
  const plate = carById(sim.car.id).engine.ratedPower;
  const share = sim.car.engine.ratedPower / plate;
  return { level: share < 0.9 ? 'watch' : 'none', measures: { share }, margin: Math.abs(share - 0.9) };
}
