import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** rpm, standard deviation of what the road does to the crank. */
const ROAD = [1.6, 3] as const;
/** rpm: noise of the speed sensor, and what of it lies at 2 to 10 Hz (amplitude, logs of 25 to 100 Hz). */
const NOISE = 1.5;
const HEARD = 1.3;
/** Times the swing of the road. */
const TIMES = { under: [0.3, 1.8], watch: [5.5, 12] } as const;
const LIMIT = 3;
const FELT = 6;

/** engine.smoothness: the delivery jerks at part load. */
export const smoothness: FaultFamily = {
  rule: 'engine.smoothness',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const [low, high] = TIMES[level === 'under' ? 'under' : 'watch'];
    const ripple = random.range(...ROAD);
    const amplitude = cruiseOf(ripple) * (low + (high - low) * dial);
    const frequency = random.range(2.8, 8);
    draft.disturb.push((plant) => {
      plant.ripple = ripple;
      plant.surge = { amplitude, frequency };
    });
    prepare(draft);
    return { rule: this.rule, level, note: `${amplitude.toFixed(0)} rpm`, dialled: { amplitude } };
  },
  truth,
  decoys: {
    /** The road shakes the car in stretches, whatever the load. */
    roughRoad(draft, random) {
      const ripple = random.range(...ROAD);
      const every = random.range(25, 60);
      const factor = random.range(3, 7);
      const length = every * random.range(0.15, 0.4);
      draft.disturb.push((plant) => {
        plant.ripple = ripple;
        plant.roughRoad = { every, length, factor };
      });
      prepare(draft);
    },
    /** All of a bad road. */
    badRoad(draft, random) {
      const ripple = random.range(8, 16);
      draft.disturb.push((plant) => {
        plant.ripple = ripple;
      });
      prepare(draft);
    },
    /** The driver works with the pedal. */
    shiftsAndFoot(draft) {
      draft.disturb.push((plant) => {
        plant.ripple = 1.2;
      });
      insertWarm(draft.script, [
        { kind: 'town', duration: 120 },
        { kind: 'tipIn', times: 6 },
      ]);
      prepare(draft);
    },
    /** A sine that nobody feels, over a cruise like glass. */
    glass(draft, random) {
      const frequency = random.range(3, 8);
      draft.disturb.push((plant) => {
        plant.ripple = 0.3;
        plant.surge = { amplitude: 3, frequency };
      });
      prepare(draft);
    },
  },
};

function prepare(draft: DriveDraft): void {
  for (let k = 0; k < 2; k++)
    insertWarm(draft.script, [
      { kind: 'cruise', speed: 70 + 20 * k, duration: 40 },
      { kind: 'rollingAcceleration', from: 60, to: 110, acceleration: 1.7, repeats: 2 },
      { kind: 'cruise', speed: 80, duration: 25, grade: 0.085 },
      { kind: 'cruise', speed: 80, duration: 15 },
      { kind: 'cruise', speed: 90, duration: 25, grade: 0.085 },
    ]);
  atLeast(draft, 25);
  draft.tuned.set('engineSpeed', { noise: NOISE });
  for (const id of ['engineSpeed', 'vehicleSpeed', 'pedalPosition', 'engineLoad', 'gear', 'airMassFlow'])
    draft.kept.add(id);
}

/** Amplitude (rpm) of cruise: road and sensor. */
function cruiseOf(ripple: number): number {
  return Math.hypot(Math.SQRT2 * ripple, HEARD);
}

/** By the dial: the same road under cruise and part load, the jerks under part load only. */
function truth(sim: Simulation): TrueFinding {
  const { surge, ripple } = sim.plant;
  const cruise = cruiseOf(ripple);
  const amplitude = Math.hypot(surge.amplitude, cruise);
  const ratio = amplitude / cruise;
  const level = ratio > LIMIT && amplitude > FELT ? 'watch' : 'none';
  return {
    level,
    measures: { amplitude },
    margin:
      level === 'watch'
        ? Math.min(ratio - LIMIT, (amplitude - FELT) / 2)
        : Math.max(LIMIT - ratio, (FELT - amplitude) / 2),
  };
}
