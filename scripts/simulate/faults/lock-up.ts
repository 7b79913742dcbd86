import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { heldMaximum, settledMask, signalOf, smoothed } from './settled.js';

/** transmission.lock-up: a converter clutch that holds less than cruising and light acceleration ask for. */
export const lockUp: FaultFamily = {
  rule: 'transmission.lock-up',
  suits: (car) => car.transmission.kind === 'converter',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [low, high] = level === 'under' ? [8, 22] : level === 'watch' ? [64, 88] : [125, 300];
    const slip = low + (high - low) * dial;
    const torque = draft.car.engine.ratedTorque;
    // No steeper than the integration of the slip allows; then the clutch holds the more.
    const radians = (slip * Math.PI) / 30;
    const gradient = Math.min(50, (random.range(0.55, 0.65) * torque) / radians);
    const hold = 0.92 * torque - gradient * radians;
    draft.disturb.push((plant) => {
      plant.wornLockUp = { hold, gradient };
    });
    insertWarm(draft.script, [{ kind: 'cruise', speed: 90, duration: 40, grade: 0.02 }]);
    return { rule: this.rule, level, note: `${slip.toFixed(0)} rpm at rated torque`, dialled: { slip } };
  },
  truth,
  decoys: {
    designedSlip(draft, random) {
      draft.disturb.push((plant) => {
        plant.lockUpSlip = (random.range(20, 80) * Math.PI) / 30;
      });
    },
    coldFluid(draft) {
      draft.ambient = { ...draft.ambient, temperature: -8 };
      draft.disturb.push((plant) => {
        plant.lockUpColdSlip = 12;
      });
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  if (sim.car.transmission.kind !== 'converter')
    return { level: 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
  const engine = signalOf(sim, 'engineSpeed');
  const turbine = signalOf(sim, 'inputShaftSpeed');
  const state = signalOf(sim, 'converterClutchState');
  const fluid = signalOf(sim, 'transmissionOilTemperature');
  const settled = settledMask(sim);
  const wait = sim.rate;
  const raw = new Float32Array(sim.samples).fill(Number.NaN);
  let closed = 0;
  for (let i = 0; i < raw.length; i++) {
    closed = state[i]! >= 2 ? closed + 1 : 0;
    if (closed > wait && settled[i] === 1 && fluid[i]! >= 50) raw[i] = engine[i]! - turbine[i]!;
  }
  // Two clutches in series chatter about their mean: what is held is the mean.
  const slip = smoothed(raw, Math.round(0.4 * sim.rate));
  const held = heldMaximum(sim, (i) => slip[i]!, 2);
  const level = held > 100 ? 'repair' : held > 50 ? 'watch' : 'none';
  return {
    level,
    measures: Number.isNaN(held) ? {} : { slip: held },
    margin: Number.isNaN(held) ? Number.POSITIVE_INFINITY : nearest(held, [50, 100]),
  };
}
