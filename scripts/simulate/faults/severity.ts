import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm } from './fault.js';
import { signalOf } from './settled.js';

/** Share (%) of moving time at 90 % pedal and 60 % of the rev limit, and brakings that hold 6 m/s2 for 0.3 s, per km. */
function hardness(sim: Simulation): { share: number; perKm: number; moving: number } {
  const road = signalOf(sim, 'gpsSpeed');
  const pedal = signalOf(sim, 'pedalPosition');
  const speed = signalOf(sim, 'engineSpeed');
  const { pedalRest, pedalFull } = sim.car.sensors;
  const high = 0.6 * sim.car.engine.revLimit;
  let [moving, hard, brakings, held, slow] = [0, 0, 0, 0, 99];
  let braked = false;
  const step = Math.round(0.1 * sim.rate);
  for (let i = step; i < sim.samples; i++) {
    if (road[i]! < 1) continue;
    moving++;
    if ((pedal[i]! - pedalRest) / (pedalFull - pedalRest) >= 0.9 && speed[i]! >= high) hard++;
    const deceleration = (road[i - step]! - road[i]!) / 3.6 / 0.1;
    held = deceleration > 6 ? held + 1 / sim.rate : 0;
    // A braking has ended once the car slowed down by less than 1.5 m/s2 for half a second.
    slow = deceleration > 1.5 ? 0 : slow + 1 / sim.rate;
    if (slow > 0.5) braked = false;
    if (held >= 0.3 && !braked) {
      braked = true;
      brakings++;
    }
  }
  return { share: (100 * hard) / moving, perKm: brakings / (sim.truth.distance / 1000), moving: moving / sim.rate };
}

/** usage.severity: laps of a circuit, so many that the drive to it does not hide them. */
export const severity: FaultFamily = {
  rule: 'usage.severity',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const minutes = level === 'under' ? 2 + 3 * dial : 22 + 12 * dial;
    insertWarm(draft.script, [
      {
        kind: 'circuit',
        duration: 60 * minutes,
        top: random.range(165, 200),
        corner: random.range(60, 75),
        braking: [7.6, 9.2],
        acceleration: [5, 7],
      },
      { kind: 'cruise', speed: 80, duration: 60 },
    ]);
    return { rule: this.rule, level, note: `${minutes.toFixed(0)} min of circuit`, dialled: { minutes } };
  },
  truth(sim) {
    const { share, perKm, moving } = hardness(sim);
    const found = share >= 15 && perKm >= 1 && moving >= 600;
    const load = share / 15 - 1;
    const brakes = perKm - 1;
    return {
      level: found ? 'watch' : 'none',
      measures: { share, brakingsPerKm: perKm },
      // The sign that decides: the weaker one of a find, the one that is missing otherwise.
      margin: moving < 600 ? 99 : Math.abs(Math.min(load, brakes)),
    };
  },
  decoys: {
    motorwayClimb(draft, random) {
      for (let i = 0; i < 3; i++)
        insertWarm(draft.script, [
          { kind: 'motorway', speed: random.range(125, 150), duration: 140, grade: random.range(0.05, 0.08) },
          { kind: 'pull', gear: 4, fromRpm: 2500, toRpm: draft.car.engine.revLimit - 600, grade: 0.08 },
        ]);
    },
    towing(draft, random) {
      const { car } = draft;
      // A trailer behind: twice the mass and more drag.
      draft.listed ??= car;
      draft.car = { ...car, body: { ...car.body, mass: car.body.mass * 1.8, dragArea: car.body.dragArea + 1.2 } };
      insertWarm(draft.script, [{ kind: 'motorway', speed: random.range(85, 100), duration: 240, grade: 0.06 }]);
    },
    hardBrakings(draft, random) {
      for (let i = 0; i < 10; i++)
        insertWarm(draft.script, [
          { kind: 'cruise', speed: random.range(40, 70), duration: 15 },
          { kind: 'stop', deceleration: 7.5, stand: 2 },
        ]);
    },
  },
};
