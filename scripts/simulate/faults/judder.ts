import type { Simulation } from '../simulate.js';
import { atLeast, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';

/** transmission.judder: facings whose friction falls with speed shake the input shaft on every take-up. */
export const judder: FaultFamily = {
  rule: 'transmission.judder',
  suits: (car) => car.transmission.kind === 'dual-clutch',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [low, high] = level === 'under' ? [3, 20] : level === 'watch' ? [46, 66] : [110, 200];
    const amplitude = low + (high - low) * dial;
    draft.disturb.push((plant) => {
      plant.judder = { amplitude, frequency: random.range(7, 14) };
    });
    starts(draft, random);
    return { rule: this.rule, level, note: `${amplitude.toFixed(0)} rpm`, dialled: { amplitude } };
  },
  truth,
  decoys: {
    roughIdle(draft, random) {
      const amplitude = random.range(20, 45);
      draft.disturb.push((plant) => {
        plant.roughIdle = amplitude;
      });
      starts(draft, random);
    },
    /** Setts or a washboard track under every pull-away: the wheels shake the shaft, slipping clutch or not. */
    roughRoad(draft, random) {
      const share = random.range(0.03, 0.1);
      draft.disturb.push((plant) => {
        plant.roadShake = share;
      });
      starts(draft, random);
    },
    designedSlip(draft) {
      draft.disturb.push((plant) => {
        plant.microSlip = 8;
      });
    },
  },
};

function starts(draft: Parameters<FaultFamily['apply']>[0], random: Parameters<FaultFamily['apply']>[3]): void {
  for (let k = 0; k < 4; k++)
    insertWarm(draft.script, [
      { kind: 'stop', stand: 3 },
      { kind: 'briskPullAway', acceleration: random.range(1, 1.5), to: 25 },
    ]);
  atLeast(draft, 50);
  draft.kept.add('inputShaftSpeed');
}

/** By the dial: the oscillator's limit cycle, reached in every take-up. */
function truth(sim: Simulation): TrueFinding {
  if (sim.car.transmission.kind !== 'dual-clutch')
    return { level: 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
  const { amplitude } = sim.plant.judder;
  const level = amplitude > 80 ? 'repair' : amplitude > 30 ? 'watch' : 'none';
  return { level, measures: { amplitude }, margin: nearest(amplitude, [30, 80]) };
}
