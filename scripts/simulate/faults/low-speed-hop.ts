import type { Simulation } from '../simulate.js';
import { atLeast, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

type Draft = Parameters<FaultFamily['apply']>[0];

function circles(draft: Draft): void {
  insertWarm(draft.script, [
    { kind: 'fullLock', duration: 28 },
    { kind: 'fullLock', duration: 24, share: 0.5 },
  ]);
  atLeast(draft, 50);
  for (const id of ['wheelSpeed', 'steeringAngle', 'ambientTemperature']) draft.kept.add(id);
}

/** driveline.low-speed-hop: a coupling that drags makes the front tyres stick and slip at full lock. */
export const lowSpeedHop: FaultFamily = {
  rule: 'driveline.low-speed-hop',
  levels: ['repair'],
  apply(draft, level, dial, random) {
    const front = level === 'under' ? 0.04 + 0.24 * dial : 0.85 + 1.2 * dial;
    draft.ambient = { ...draft.ambient, temperature: random.range(13, 28) };
    draft.disturb.push((plant) => {
      plant.hop = { front, rear: front * random.range(0.1, 0.5), frequency: random.range(4, 8) };
    });
    circles(draft);
    return { rule: this.rule, level, note: `${front.toFixed(2)} km/h`, dialled: { front } };
  },
  truth(sim: Simulation): TrueFinding {
    const { front, rear } = sim.plant.hop;
    const cold = (sim.signals.get('ambientTemperature')?.[0] ?? 20) < 10;
    const level = front > 0.5 && front > rear && !cold ? 'repair' : 'none';
    return { level, measures: { front }, margin: Math.abs(front - 0.5) };
  },
  decoys: {
    coldTyres(draft, random) {
      draft.ambient = { ...draft.ambient, temperature: random.range(-5, 8) };
      draft.disturb.push((plant) => {
        plant.hop = { front: 1, rear: 0.3, frequency: 6 };
      });
      circles(draft);
    },
    toneRing(draft, random) {
      const share = random.range(0.02, 0.06);
      draft.disturb.push((plant) => {
        plant.toneRing[0] = share;
        plant.toneRing[1] = share;
      });
      circles(draft);
    },
    rearAlone(draft) {
      draft.disturb.push((plant) => {
        plant.hop = { front: 0, rear: 1.2, frequency: 6 };
      });
      circles(draft);
    },
    sensorFloor(draft) {
      draft.disturb.push((plant) => {
        plant.wheelLostBelow = [2.5, 2.5, 2.5, 2.5];
      });
      circles(draft);
    },
    quantisedSpeed(draft) {
      draft.tuned.set('wheelSpeed', { quantum: 0.25 });
      circles(draft);
    },
  },
};
