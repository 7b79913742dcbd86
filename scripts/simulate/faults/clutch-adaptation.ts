import type { Simulation } from '../simulate.js';
import type { FaultFamily, TrueFinding } from './fault.js';

/** Band (bar) that the profile of a fault drive states. */
const BAND = [1.2, 3.2] as const;

/** transmission.clutch-adaptation: a touch point that has run out of its band. */
export const clutchAdaptation: FaultFamily = {
  rule: 'transmission.clutch-adaptation',
  suits: (car) => car.transmission.kind === 'dual-clutch',
  levels: ['repair'],
  apply(draft, level, dial, random) {
    const high = random.chance(0.6);
    const beyond = level === 'under' ? -0.9 + 0.7 * dial : 0.1 + 1.2 * dial;
    const value = high ? BAND[1] + beyond : BAND[0] - Math.min(beyond, 0.9);
    const which = random.int(0, 1);
    draft.disturb.push((plant) => {
      plant.touchPoint[which] = Math.round(value * 20) / 20;
    });
    draft.profile.push(
      `limits: { transmission.clutch-adaptation: { touch-point-low: { value: ${BAND[0]}, unit: bar }, touch-point-high: { value: ${BAND[1]}, unit: bar } } }`,
    );
    return { rule: this.rule, level, note: `touch point ${value.toFixed(2)} bar`, dialled: { value } };
  },
  truth(sim: Simulation): TrueFinding {
    if (sim.car.transmission.kind !== 'dual-clutch')
      return { level: 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
    const beyond = Math.max(...sim.plant.touchPoint.map((x) => Math.max(x - BAND[1], BAND[0] - x)));
    return {
      level: beyond > 1e-9 ? 'repair' : 'none',
      measures: {
        'clutchTouchPoint.clutch1': sim.plant.touchPoint[0],
        'clutchTouchPoint.clutch2': sim.plant.touchPoint[1],
      },
      margin: Math.abs(beyond),
    };
  },
  decoys: {
    relearned(draft) {
      draft.disturb.push((plant) => {
        plant.touchPoint = [2, 2];
        plant.clutchCorrection = [0, 0];
      });
    },
  },
};
