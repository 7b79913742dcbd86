import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { settledMask, signalOf } from './settled.js';

/** transmission.ratio: one gear of the box has another ratio than the profile says. */
export const ratio: FaultFamily = {
  rule: 'transmission.ratio',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const off = level === 'under' ? 0.1 + 0.6 * dial : 2.6 + 5 * dial;
    const gear = random.int(2, Math.min(5, draft.car.transmission.gears.length));
    const factor = 1 + (random.chance(0.5) ? 1 : -1) * (off / 100);
    draft.disturb.push((plant) => {
      plant.gearFactor = { ...plant.gearFactor, [gear]: factor };
    });
    insertWarm(draft.script, [
      { kind: 'gentleGears', to: 110 },
      { kind: 'stop', stand: 3 },
      { kind: 'town', duration: 80, limit: 60 },
      { kind: 'gentleGears', to: 110 },
    ]);
    return { rule: 'transmission.ratio', level, note: `gear ${gear} x ${factor.toFixed(3)}`, dialled: { step: off } };
  },
  truth,
  decoys: {
    /** The display reads high by a few percent, all gears alike. */
    displayHigh(draft, random) {
      const gain = random.range(1.02, 1.08);
      for (const id of ['vehicleSpeed', 'wheelSpeed']) draft.tuned.set(id, { ...draft.tuned.get(id), scale: gain });
    },
    wholeKilometres(draft) {
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed', 'wheelSpeed']) draft.dropped.add(id);
      draft.tuned.set('vehicleSpeed', { quantum: 1 });
    },
    speedLag(draft, random) {
      const lag = random.range(0.15, 0.35);
      for (const id of ['wheelSpeed', 'vehicleSpeed']) draft.tuned.set(id, { lag });
    },
    dampRoad(draft, random) {
      draft.ambient = { ...draft.ambient, grip: random.range(0.65, 0.8) };
    },
  },
};

/** Gears held for this long (s) count as driven. */
const DRIVEN = 8;

function truth(sim: Simulation): TrueFinding {
  const gear = signalOf(sim, 'gear');
  const settled = settledMask(sim);
  const seconds = new Float64Array(12);
  for (let i = 0; i < sim.samples; i++) if (settled[i] === 1 && gear[i]! >= 1) seconds[gear[i]!]! += 1 / sim.rate;
  const driven = [...seconds.keys()].filter((g) => seconds[g]! >= DRIVEN);
  let step = 0;
  for (let k = 1; k < driven.length; k++) {
    const [a, b] = [sim.plant.gearFactor[driven[k - 1]!] ?? 1, sim.plant.gearFactor[driven[k]!] ?? 1];
    step = Math.max(step, 100 * Math.abs(a / b - 1));
  }
  return { level: step > 1 ? 'watch' : 'none', measures: { step }, margin: Math.abs(step - 1) };
}
