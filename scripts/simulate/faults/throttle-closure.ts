import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { heldWithin, longPulls, perPull, truePieces } from './full-load.js';
import { signalOf } from './settled.js';

/** air.throttle-closure: the control unit holds the manifold under the charge pressure at full pedal. */
export const throttleClosure: FaultFamily = {
  rule: 'air.throttle-closure',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const share = level === 'under' ? 0.995 : 0.9 - 0.25 * dial;
    const from = random.range(3200, 3800);
    draft.disturb.push((plant) => {
      if (share < 0.99) plant.throttleCut = { share, from, to: from + 900, gears: new Set() };
    });
    prepare(draft, random);
    return {
      rule: 'air.throttle-closure',
      level,
      note: `manifold at ${share.toFixed(2)} of the charge`,
      dialled: { share },
    };
  },
  truth,
  decoys: {
    /** Torque is limited in the lower gears on purpose. */
    lowGears(draft, random) {
      draft.disturb.push((plant) => {
        plant.throttleCut = { share: 0.7, from: 0, to: 20_000, gears: new Set([1, 2]) };
      });
      prepare(draft, random);
      const pull = { kind: 'pull', gear: 2, fromRpm: 2200, toRpm: draft.car.engine.revLimit - 900 } as const;
      draft.script.splice(draft.script.length - 1, 0, pull, pull, pull);
    },
    shifts(draft, random) {
      prepare(draft, random);
      draft.script.splice(draft.script.length - 1, 0, { kind: 'circuit', duration: 70 });
    },
    traction(draft, random) {
      draft.ambient = { ...draft.ambient, grip: random.range(0.5, 0.65) };
      prepare(draft, random);
    },
  },
};

function prepare(draft: DriveDraft, random: Random): void {
  for (const id of ['throttlePosition', 'wheelSpeed']) draft.kept.add(id);
  atLeast(draft, random.pick([10, 20]));
  longPulls(draft, random.range(2000, 2400));
}

/** Points of the sensor under its full opening, held for 0.3 s in gear 3 and above, away from start and limiter; second of the pulls. */
function truth(sim: Simulation): TrueFinding {
  const { throttleRest, throttleFull, pedalRest, pedalFull } = sim.car.sensors;
  const throttle = signalOf(sim, 'throttlePosition');
  const pedal = signalOf(sim, 'pedalPosition');
  const gear = signalOf(sim, 'gear');
  const rpm = signalOf(sim, 'engineSpeed');
  const open = throttleRest + 0.99 * (throttleFull - throttleRest);
  const floor = pedalRest + 0.95 * (pedalFull - pedalRest);
  const stop = sim.car.engine.revLimit - 250;
  const values = truePieces(sim).map((piece) => ({
    pull: piece.pull,
    value: heldWithin(
      sim,
      piece,
      (i) =>
        gear[i]! >= 3 && pedal[i]! >= floor && i >= piece.began + 1.1 * sim.rate && rpm[i]! < stop
          ? open - throttle[i]!
          : Number.NaN,
      0.3,
    ),
  }));
  const closure = perPull(values)[1] ?? 0;
  return { level: closure > 15 ? 'watch' : 'none', measures: { closure }, margin: nearest(closure, [15]) };
}
