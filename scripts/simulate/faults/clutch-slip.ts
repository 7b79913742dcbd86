import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { heldMaximum, settledMask, signalOf, smoothed, stretchesOf } from './settled.js';

/** Share of the input speed (%), and rpm floor, of watch, repair and stop: by shafts, or by wheels for a manual gearbox. */
const SHAFTS = [
  ['watch', 3, 100],
  ['repair', 6, 200],
  ['stop', 12, 0],
] as const;
const WHEELS = [
  ['watch', 5, 0],
  ['repair', 8, 0],
  ['stop', 15, 0],
] as const;
/** Dialled slip (%) at rated torque near 4500 rpm: from, to. */
const DIALS = { under: [0.6, 2.4], watch: [3.6, 4.6], repair: [7, 9.2], stop: [14.5, 22] } as const;

/** transmission.clutch-slip: facings that hold less than the engine gives and slip the faster the more is missing. */
export const clutchSlip: FaultFamily = {
  rule: 'transmission.clutch-slip',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const [low, high] = DIALS[level];
    const factor = draft.car.transmission.kind === 'manual' ? 1.35 : 1;
    const percent = factor * (low + (high - low) * dial);
    const torque = draft.car.engine.ratedTorque;
    const hold = random.range(0.55, 0.7) * torque;
    const gradient = (0.92 * torque - hold) / ((percent / 100) * 471);
    draft.disturb.push((plant) => {
      plant.wornClutch = { path: 0, hold, gradient };
    });
    for (const id of ['wheelSpeed', 'engineTorque']) draft.kept.add(id);
    return {
      rule: 'transmission.clutch-slip',
      level,
      note: `${percent.toFixed(1)} % at rated torque, holds ${hold.toFixed(0)} N.m`,
      dialled: { slip: percent },
    };
  },
  truth,
  decoys: {
    /** Road speed that comes late, and no shaft speeds. */
    speedLag(draft, random) {
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed']) draft.dropped.add(id);
      const lag = random.range(0.15, 0.35);
      for (const id of ['wheelSpeed', 'vehicleSpeed']) draft.tuned.set(id, { lag });
    },
    wholeKilometres(draft) {
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed', 'wheelSpeed']) draft.dropped.add(id);
      draft.tuned.set('vehicleSpeed', { quantum: 1 });
    },
    /** Tyres on a damp road: 2 to 6 % under load. */
    tyreSlip(draft, random) {
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed']) draft.dropped.add(id);
      draft.ambient = { ...draft.ambient, grip: random.range(0.65, 0.8) };
    },
    microSlip(draft, random) {
      const slip = random.range(20, 80);
      if (draft.car.transmission.kind === 'converter')
        draft.disturb.push((plant) => {
          plant.lockUpSlip = (slip * Math.PI) / 30;
        });
      else if (draft.car.transmission.kind === 'dual-clutch')
        draft.disturb.push((plant) => {
          plant.microSlip = (slip * Math.PI) / 30;
        });
    },
    /** A lazy hand-over between the two clutches, in many shifts under load. */
    handOver(draft, random) {
      draft.car = {
        ...draft.car,
        transmission: { ...draft.car.transmission, shiftTime: draft.car.transmission.shiftTime * random.range(1.4, 2) },
      };
      insertWarm(draft.script, [{ kind: 'rollingAcceleration', from: 30, to: 120, acceleration: 2.5, repeats: 4 }]);
    },
    /** A converter that is never locked, and nobody logs the turbine. */
    openConverter(draft) {
      draft.disturb.push((plant) => {
        plant.wornLockUp = { hold: 8, gradient: 0 };
      });
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed', 'converterClutchState']) draft.dropped.add(id);
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  const { car } = sim;
  const input = signalOf(sim, car.transmission.kind === 'converter' ? 'inputShaftSpeed' : 'engineSpeed');
  const output = signalOf(sim, 'outputShaftSpeed');
  const gear = signalOf(sim, 'gear');
  const torque = signalOf(sim, 'engineTorque');
  const settled = settledMask(sim);
  const limits = car.transmission.kind === 'manual' ? WHEELS : SHAFTS;
  const lowest = car.transmission.kind === 'manual' ? 3 : 1;
  const raw = new Float32Array(sim.samples).fill(Number.NaN);
  for (let i = 0; i < raw.length; i++) {
    if (settled[i] === 0 || gear[i]! < lowest || torque[i]! < 0.4 * car.engine.ratedTorque) continue;
    // A gear set of another ratio is another fault, and no slip.
    const factor = sim.plant.gearFactor[gear[i]!] ?? 1;
    const shaft = car.transmission.gears[gear[i]! - 1]! * factor * output[i]!;
    if (shaft >= 1100) raw[i] = input[i]! - shaft;
  }
  // Two clutches in series chatter about their mean: what is held is the mean, not the lowest sample of a second.
  const slip = smoothed(raw, Math.round(0.3 * sim.rate));
  const beyond = (i: number, share: number, floor: number): boolean =>
    slip[i]! > Math.max((share / 100) * input[i]!, floor);
  const events = limits.map(([, share, floor]) => stretchesOf(sim, (i) => beyond(i, share, floor), 1));
  // Repair events are counted by the watch stretches that hold them.
  const repairs = events[0]!.filter((e) => events[1]!.some((r) => r.start >= e.start && r.end <= e.end)).length;
  const level = events[2]!.length > 0 ? 'stop' : repairs >= 2 ? 'repair' : events[0]!.length > 0 ? 'watch' : 'none';
  let margin = Number.POSITIVE_INFINITY;
  for (const [, share, floor] of limits) {
    const ratio = heldMaximum(sim, (i) => slip[i]! / Math.max((share / 100) * input[i]!, floor), 1);
    if (!Number.isNaN(ratio)) margin = Math.min(margin, Math.abs(ratio - 1) * share);
  }
  // One event more or less decides on repair.
  if (repairs === 1) margin = 0;
  const held = heldMaximum(sim, (i) => (100 * slip[i]!) / input[i]!, 1);
  return { level, measures: Number.isNaN(held) ? {} : { slip: held }, margin };
}
