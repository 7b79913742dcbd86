import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { heldWithin, longPulls, perPull, truePieces } from './full-load.js';
import { signalOf } from './settled.js';

/** air.turbo-health: a turbocharger that makes less, an actuator that does not go where it is sent. */
export const turboHealth: FaultFamily = {
  rule: 'air.turbo-health',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    prepare(draft, random);
    if (level === 'watch' || (level === 'repair' && random.chance(0.4))) {
      const off = level === 'watch' ? 6.5 + 2 * dial : 12 + 10 * dial;
      draft.disturb.push((plant) => {
        plant.actuatorOff = off;
      });
      for (const id of ['wastegatePosition', 'wastegateTarget']) draft.added.add(id);
      return { rule: 'air.turbo-health', level, note: `actuator ${off.toFixed(1)} points off`, dialled: { off } };
    }
    const share = level === 'under' ? 1.02 - 0.02 * dial : 0.8 - 0.25 * dial;
    draft.disturb.push((plant) => {
      plant.boostShare = share;
    });
    return { rule: 'air.turbo-health', level, note: `${share.toFixed(2)} of the boost`, dialled: { share } };
  },
  truth,
  decoys: {
    altitude(draft, random) {
      draft.ambient = { ...draft.ambient, altitude: random.range(1600, 2400) };
      prepare(draft, random);
    },
    hotDay(draft, random) {
      draft.ambient = { ...draft.ambient, temperature: random.range(34, 42) };
      prepare(draft, random);
    },
    /** Kick-downs from high engine speed: boost has to be built while the engine turns fast already. */
    lateSpool(draft, random) {
      prepare(draft, random);
      const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
      const pull = { kind: 'pull', gear, fromRpm: 3600, toRpm: draft.car.engine.revLimit - 600 } as const;
      draft.script.splice(draft.script.length - 1, 0, pull, pull, pull);
    },
    shifts(draft, random) {
      prepare(draft, random);
      for (const id of ['wastegatePosition', 'wastegateTarget']) draft.added.add(id);
      draft.script.splice(draft.script.length - 1, 0, { kind: 'circuit', duration: 70 });
    },
    /** The duty is written as the share by which the wastegate is opened: less makes more boost. */
    inversePolarity(draft, random) {
      prepare(draft, random);
      draft.tuned.set('wastegateDuty', { scale: -1, offset: 100 });
    },
  },
};

function prepare(draft: DriveDraft, random: Random): void {
  for (const id of ['boostPressure', 'boostPressureTarget', 'throttlePosition', 'barometricPressure'])
    draft.kept.add(id);
  draft.added.add('wastegateDuty');
  if (random.chance(0.4)) draft.tuned.set('wastegateDuty', { scale: -1, offset: 100 });
  atLeast(draft, random.pick([5, 10, 20]));
  longPulls(draft, random.range(2000, 2400));
}

/** Boost missing with the duty at 95 % or more for a second, above 3000 rpm, from 3 s of full pedal; second of the pulls; and the actuator. */
function truth(sim: Simulation): TrueFinding {
  const boost = signalOf(sim, 'boostPressure');
  const target = signalOf(sim, 'boostPressureTarget');
  const duty = signalOf(sim, 'wastegateDuty');
  const rpm = signalOf(sim, 'engineSpeed');
  const barometer = signalOf(sim, 'barometricPressure');
  const values = truePieces(sim).map((piece) => ({
    pull: piece.pull,
    value: heldWithin(
      sim,
      piece,
      (i) =>
        duty[i]! >= 95 && rpm[i]! >= 3000 && i >= piece.began + 3 * sim.rate && barometer[i]! >= 86
          ? target[i]! - boost[i]!
          : Number.NaN,
      1,
    ),
  }));
  const missing = perPull(values)[1] ?? 0;
  const off = sim.plant.actuatorOff;
  const level = missing > 10 || off > 10 ? 'repair' : off > 5 ? 'watch' : 'none';
  return {
    level,
    measures: { missing },
    margin: Math.min(nearest(missing, [10]), off > 0 ? nearest(off, [5, 10]) : 10),
  };
}
